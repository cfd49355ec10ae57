// What is laid under a system that is read: degrees, the signs of roles, lines that come back, how a bar fits. Pure.

import { round, safe } from "./draw.js";
import { ROLE_SIGNS } from "./signs.js";

/** `read` is {byEntry: Map "bar:place" → note, lines, fits, hidden: Set}; `shown` says which rows. */
export function lanes(places, frame, bars, read, shown) {
  const small = frame.size < 8.5 || places[0].x1 - places[0].x0 < 245, parts = [];
  let y = frame.bottom + (small ? 10 : 14);
  const degreeY = shown.degrees ? (y += small ? 4 : 6) : y;
  if (shown.roles) y += small ? 15 : 18;
  const roleY = y;
  if (shown.lines && read.lines.length) y += 16;
  const lineY = y;
  if (shown.fit) y += small ? 16 : 18;
  const fitY = y;
  places.forEach((place) => {
    if (read.hidden.has(place.index)) { parts.push(asked(place, degreeY, y)); return; }
    place.xs.forEach((x, entry) => {
      const note = read.byEntry.get(`${place.index}:${entry}`);
      if (note) parts.push(noteMarks(note, x + frame.size * 0.62, degreeY, roleY, small, shown));
    });
    if (shown.fit) parts.push(fitMark(read.fits.get(place.index), place, fitY, small));
  });
  if (shown.lines) parts.push(lineBands(read.lines, places, lineY, bars));
  return { svg: parts.join(""), height: y - frame.bottom + 22 };
}

function noteMarks(note, x, degreeY, roleY, small, shown) {
  const kind = note.inside ? "degree" : "degree degree--out";
  const degree = shown.degrees ? `<text class="${kind}" x="${round(x)}" y="${degreeY}" font-size="${small ? 12.5 : 14.5}">${safe(note.degree)}</text>` : "";
  const sign = shown.roles && (ROLE_SIGNS[note.role] || note.border) ? `<path class="role role--${note.role.replace(" ", "-")}" transform="translate(${round(x)} ${roleY - 5})" d="${note.border === "early" || note.border === "ahead" ? ROLE_SIGNS.early : note.border === "late" ? ROLE_SIGNS.late : note.role === "passing" && note.falls ? ROLE_SIGNS.falling : ROLE_SIGNS[note.role]}"/>` : "";
  return `<g class="mark" data-note="${note.index}"${note.other ? ' data-other="1"' : ""}>${degree}${sign}${note.word ? `<circle class="mark__word" cx="${round(x + 8)}" cy="${degreeY - 10}" r="2.2"/>` : ""}</g>`;
}
function asked(place, y, end) {
  const dashes = place.xs.map((x) => `<line class="asked__dash" x1="${round(x)}" x2="${round(x + 9)}" y1="${y - 4}" y2="${y - 4}"/>`).join("");
  return `<g class="asked">${dashes}<text class="asked__words" x="${round(place.left)}" y="${end + 12}">not told yet</text></g>`;
}
function lineBands(lines, places, y, bars) {
  const byBar = new Map(places.map((place) => [place.index, place]));
  const first = bars[0].index, last = bars.at(-1).index;
  return lines.flatMap((line) => line.places.map((one) => {
    if (one.end_bar < first || one.bar > last) return "";
    const from = byBar.has(one.bar) ? byBar.get(one.bar).at(one.at) : places[0].left, to = byBar.has(one.end_bar) ? byBar.get(one.end_bar).at(one.end_at) + 10 : places.at(-1).x1;
    const hooks = `${byBar.has(one.bar) ? `M${round(from)} ${y - 7} V${y - 1}` : ""} M${round(from)} ${y - 4} H${round(to)} ${byBar.has(one.end_bar) ? `M${round(to)} ${y - 7} V${y - 1}` : ""}`;
    return `<g class="band"><path class="band__line" d="${hooks}"/><text class="band__name" x="${round(from + 2)}" y="${y + 9}">${safe(line.name || `comes ${line.places.length} times`)}</text></g>`;
  })).join("");
}
/** As long as the fit, a stroke where the next best chord stands; hollow where nothing can be said. Clear bars stay bare. */
function fitMark(fit, place, y, small) {
  if (!fit || fit.clear) return "";
  const wide = place.right - place.left;
  if (fit.open) return `<g class="fit"><rect class="fit__open" x="${round(place.left)}" y="${y - 8}" width="${round(wide * 0.35)}" height="5"/><text class="fit__words" x="${round(place.left)}" y="${y + 11}">${safe(fit.words)}</text></g>`;
  return `<g class="fit"><line class="fit__all" x1="${round(place.left)}" x2="${round(place.right)}" y1="${y - 4}" y2="${y - 4}"/><line class="fit__here" x1="${round(place.left)}" x2="${round(place.left + wide * fit.best)}" y1="${y - 4}" y2="${y - 4}"/><line class="fit__next" x1="${round(place.left + wide * fit.next)}" x2="${round(place.left + wide * fit.next)}" y1="${y - 9}" y2="${y + 1}"/><text class="fit__words" x="${round(place.left)}" y="${y + (small ? 9 : 10)}">${safe(fit.words)}</text></g>`;
}
