// Draws one system of a solo as SVG text: staff, notes, chords, and what a page lays above and below. Pure: strings only.
// Signs are outlines of the music font Leipzig. Time is space: an eighth is as wide everywhere in a system, so that what
// a page adds at a moment stands under its note.

import { glyph, round, safe } from "./draw.js";
import { barNotes, extents } from "./notes.js";
import { filled, onsets } from "./score.js";

export const MIDDLE = { treble: 34, bass: 22 };
const SHARPS = { treble: [38, 35, 39, 36, 33, 37, 34], bass: [24, 21, 25, 22, 19, 23, 20] };
const FLATS = { treble: [34, 37, 33, 36, 32, 35, 31], bass: [20, 23, 19, 22, 18, 21, 17] };

/** How wide clef, signature and metre are, in pixels. */
export function headWidth({ fifths, size, metre }) { return size * (3.4 + Math.abs(fifths) * 0.95 + (fifths ? 0.5 : 0) + (metre ? 2.2 : 0)); }

/**
 * One system. `bars` are those of the form (with `index`), `notes` their entries; `perSystem` decides how wide a bar is;
 * `below(places)` may return {svg, height} for a page's own rows. Returns {svg, height, places}: the places are, for each
 * bar, its edges and the x of every entry.
 */
export function drawSystem({ bars, notes, width, size, perSystem, fifths, clef, metre, last, below, before = [], chordSize }) {
  const head = headWidth({ fifths, size, metre });
  const barWidth = (width - head) / perSystem;
  const places = bars.map((bar, i) => placesOf(bar, notes[i], head + i * barWidth, barWidth, size, i === 0));
  const drawn = bars.map((bar, i) => barNotes({ bar, entries: notes[i], place: places[i], size, fifths, middle: MIDDLE[clef], before: i ? notes[i - 1] : before }));
  const span = extents(drawn);
  const chordRow = chordSize * 1.15;
  const top = size * 1.7 + chordRow + Math.max(size * 1.4, -span.top + size * 1.5);
  const bottom = Math.max(span.bottom, 4 * size) + size * 1.1;
  const parts = [staff(head + bars.length * barWidth, top, size)];
  parts.push(headOfSystem({ top, size, fifths, clef, metre }));
  bars.forEach((bar, i) => {
    const x = places[i].x1;
    const end = last && i === bars.length - 1;
    parts.push(`<line class="barline" x1="${round(x)}" x2="${round(x)}" y1="${round(top)}" y2="${round(top + 4 * size)}"/>`);
    if (end) parts.push(`<rect class="heavy" x="${round(x - size * 0.5)}" y="${round(top)}" width="${round(size * 0.5)}" height="${round(4 * size)}"/>`);
    parts.push(`<g class="solo-bar${bar.asked ? " is-asked" : ""}" data-bar="${bar.index}">`);
    parts.push(`<rect class="solo-bar__ground" x="${round(places[i].x0)}" y="${round(size * 0.2)}" width="${round(places[i].x1 - places[i].x0)}" height="${round(top + bottom)}"/>`);
    parts.push(barText(bar, places[i], size));
    parts.push(chordsOver(bar, places[i], size * 1.7 + chordRow, chordSize));
    parts.push(`<g transform="translate(0 ${round(top)})">${drawn[i].svg}</g></g>`);
  });
  parts.push(`<g transform="translate(0 ${round(top)})">${ties(drawn, places, size, Boolean(before.at(-1)?.tie), width)}</g>`);
  const under = below ? below(places, { top, bottom: top + bottom, size, drawn }) : { svg: "", height: 0 };
  parts.push(under.svg);
  return { svg: parts.join(""), height: round(top + bottom + under.height), places, top, staffBottom: top + bottom };
}

/** Edges of a bar and the x of every entry and of any tick. */
function placesOf(bar, entries, x0, width, size, first) {
  const left = x0 + size * (first ? 0.9 : 1.7), right = x0 + width - size * 0.9;
  const length = Math.max(bar.length, filled(entries));
  const at = (tick) => left + (right - left) * (tick / length);
  return { index: bar.index, x0, x1: x0 + width, left, right, at, xs: onsets(entries).map(at), end: at(filled(entries)), scale: (right - left) / length };
}

function staff(right, top, size) {
  let lines = "";
  for (let i = 0; i < 5; i += 1) lines += `<line class="staffline" x1="0" x2="${round(right)}" y1="${round(top + i * size)}" y2="${round(top + i * size)}"/>`;
  return lines;
}

/** Clef, signature and metre ([beats, unit] or nothing), from x = 0; `top` is the y of the top line. */
export function headOfSystem({ top, size, fifths, clef, metre }) {
  const middle = top + 2 * size, lineOf = (step) => middle - ((step - MIDDLE[clef]) * size) / 2;
  const parts = [clef === "bass" ? glyph("fClef", size * 0.4, top + size, size) : glyph("gClef", size * 0.4, top + 3 * size, size)];
  const rows = fifths > 0 ? SHARPS[clef] : FLATS[clef];
  for (let i = 0; i < Math.abs(fifths); i += 1) parts.push(glyph(fifths > 0 ? "sharp" : "flat", size * (3.5 + i * 0.95), lineOf(rows[i]), size));
  if (metre) {
    const x = size * (3.7 + Math.abs(fifths) * 0.95 + (fifths ? 0.4 : 0));
    parts.push(number(metre[0], x, top + size, size), number(metre[1], x, top + 3 * size, size));
  }
  return `<g class="signs">${parts.join("")}</g>`;
}
function number(value, x, y, size) { return [...String(value)].map((digit, i) => glyph(`time${digit}`, x + i * size * 1.6, y, size)).join(""); }

function barText(bar, place, size) {
  const letter = bar.label ? `<tspan class="solo-letter">${safe(bar.label)}</tspan> ` : "";
  return `<text class="solo-number" x="${round(place.x0 + size * 0.2)}" y="${round(size * 1.2)}">${letter}${bar.number}</text>`;
}

function chordsOver(bar, place, y, size) {
  const xs = bar.chords.map((chord) => place.at(chord.at));
  return bar.chords.map((chord, i) => {
    const room = (xs[i + 1] ?? place.x1) - xs[i] - size * 0.25;
    const wide = size * (0.6 * chord.line.length + 0.42 * (chord.raised ?? "").length + 0.62 * (chord.bass ? chord.bass.length + 1 : 0));
    const fit = Math.max(0.62, Math.min(1, room / wide));
    return chordText(chord, xs[i], y, size * fit);
  }).join("");
}
export function chordText(chord, x, y, size) {
  const raised = chord.raised ? `<tspan dy="${round(-size * 0.32)}" font-size="${round(size * 0.68)}">${safe(chord.raised)}</tspan>` : "";
  const bass = chord.bass ? `<tspan${chord.raised ? ` dy="${round(size * 0.32)}"` : ""}>/${safe(chord.bass)}</tspan>` : "";
  return `<text class="solo-chord" x="${round(x)}" y="${round(y)}" font-size="${round(size)}">${safe(chord.line)}${raised}${bass}</text>`;
}

/** Ties inside the system, out of its end, and into its beginning. */
function ties(drawn, places, size, tieIn, width) {
  const heads = drawn.flatMap((bar) => bar.heads);
  const parts = [];
  heads.forEach((head, i) => {
    if (i === 0 && tieIn && head.pitch) parts.push(arc(head.x - size * 2.2, head.x - size * 0.2, head, size));
    if (!head.tie || !head.pitch) return;
    const next = heads[i + 1];
    if (next?.pitch) parts.push(arc(head.x + size * 1.35, next.x - size * 0.1, head, size));
    else if (!next) parts.push(arc(head.x + size * 1.35, Math.min(width, places.at(-1).x1 + size * 0.4), head, size));
  });
  return parts.join("");
}
function arc(from, to, head, size) {
  const by = head.up ? 1 : -1, y = head.y + by * size * 0.75, deep = by * Math.min(size * 1.1, Math.max(size * 0.5, (to - from) * 0.16));
  const third = (to - from) / 3;
  const thick = by * size * 0.2;
  return `<path class="tie" d="M${round(from)} ${round(y)} C${round(from + third)} ${round(y + deep)} ${round(to - third)} ${round(y + deep)} ${round(to)} ${round(y)} C${round(to - third)} ${round(y + deep + thick)} ${round(from + third)} ${round(y + deep + thick)} ${round(from)} ${round(y)}Z"/>`;
}
