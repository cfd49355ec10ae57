// The switch "only what was missed" above a marked sheet.

const place = document.querySelector("[data-only-missed]");
const right = document.querySelectorAll(".sheet__bar--full, .answer-row:not(.answer-row--missed)");

if (place && right.length) {
  place.hidden = false;
  place.querySelector("input").addEventListener("change", (event) => {
    for (const part of right) part.hidden = event.target.checked;
  });
}

// A mark under a chord leads to its row, which may be one of those put away.
addEventListener("hashchange", () => {
  const row = document.getElementById(location.hash.slice(1));
  if (!row?.closest("[hidden]")) return;
  place.querySelector("input").click();
  row.scrollIntoView();
});
