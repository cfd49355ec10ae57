// The signs of what a note does, as paths about a point; the same in the lanes and in the legend.
export const ROLE_SIGNS = {
  passing: "M-5 4 L5 -4", falling: "M-5 -4 L5 4", neighbour: "M-5 3 L0 -3 L5 3", approach: "M-6 0 H5 M1 -4 L5 0 L1 4",
  "double approach": "M-7 0 H5 M1 -4 L5 0 L1 4 M-3 -4 L1 0 L-3 4", enclosure: "M-2 -4 H-6 V4 H-2 M2 -4 H6 V4 H2", tension: "M0 -5 L5 0 L0 5 L-5 0Z",
  delay: "M-5 3 C-3 -4 3 -4 5 3", anticipation: "M5 3 C3 -4 -3 -4 -5 3 M-5 3 V-1", early: "M4 -5 V5 L-4 0Z", late: "M-4 -5 V5 L4 0Z",
  other: "M2.5 0 A2.5 2.5 0 1 1 -2.5 0 A2.5 2.5 0 1 1 2.5 0",
};
for (const place of document.querySelectorAll("[data-sign]")) {
  place.innerHTML = `<svg viewBox="-9 -7 18 14" width="18" height="14" aria-hidden="true"><path class="role" d="${ROLE_SIGNS[place.dataset.sign]}"/></svg>`;
}
