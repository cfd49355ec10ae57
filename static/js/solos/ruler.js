// The ruler under a bar that is being written: how far it is filled, in shape and in words. Pure.

import { round, safe } from "./draw.js";
import { state } from "./score.js";

/** `partsOf(bar)`: {ticks, words} where the recording was found to part from what is written. */
export function rulers(places, frame, bars, notesOf, partsOf = (_index) => undefined) {
  const y = frame.bottom + frame.size * 0.9;
  const svg = places.map((place, i) => ruler(place, bars[i], notesOf(place.index), y, frame.size, partsOf(place.index))).join("");
  return { svg, height: frame.size * 0.9 + 20 };
}
function ruler(place, bar, entries, y, size, parting) {
  const now = state(entries, bar.length, bar.metre[1]);
  const end = place.at(bar.length), reach = place.at(now.filled), beat = bar.length / Math.round(bar.length / (6720 / bar.metre[1]));
  const parts = [];
  for (let at = 0; at <= bar.length; at += beat) parts.push(`<line class="ruler__tick" x1="${round(place.at(at))}" x2="${round(place.at(at))}" y1="${y - 3}" y2="${y + 3}"/>`);
  if (now.state === "full") parts.push(`<line class="ruler__line" x1="${round(place.left)}" x2="${round(end)}" y1="${y}" y2="${y}"/>`);
  else {
    if (now.filled) parts.push(`<line class="ruler__part" x1="${round(place.left)}" x2="${round(reach)}" y1="${y}" y2="${y}"/>`);
    if (now.state !== "over") parts.push(`<line class="ruler__rest" x1="${round(reach)}" x2="${round(end)}" y1="${y}" y2="${y}"/>`);
    if (!parting) parts.push(`<text class="ruler__words" x="${round(place.left)}" y="${y + 15}">${safe(now.words)}</text>`);
  }
  for (const tick of parting?.ticks ?? []) { const x = place.at(tick); parts.push(`<line class="ruler__gap" x1="${round(x - 2)}" x2="${round(x + size)}" y1="${y}" y2="${y}"/><path class="ruler__edge" d="M${round(x - 2)} ${y - 6} V${y + 6} M${round(x + size)} ${y - 6} V${y + 6}"/>`); }
  if (parting) parts.push(`<text class="ruler__words ruler__words--parts" x="${round(place.left)}" y="${y + 15}">${safe(`${now.state === "full" ? "" : `${now.words} · `}${parting.words}`)}</text>`);
  return `<g class="ruler ruler--${now.state}">${parts.join("")}</g>`;
}

/** The box of the cursor: on an entry, or where the next one will stand. */
export function cursorBox(place, at, frame) {
  const x = at < place.xs.length ? place.xs[at] : Math.min(place.end, place.x1 - frame.size * 1.6);
  const wide = Math.max(frame.size * 2.1, 20), kind = at < place.xs.length ? "cursor" : "cursor cursor--next";
  return `<rect class="${kind}" x="${round(x - (wide - frame.size * 1.25) / 2)}" y="${round(frame.top - frame.size * 1.6)}" width="${round(wide)}" height="${round(frame.bottom - frame.top + frame.size * 1.7)}" rx="3"/>`;
}
