// The notes of one bar as SVG text: heads, stems, flags, beams, rests, signs, tuplets. Pure.
// y is counted from the top line of the staff, downwards; a staff space is `size` pixels.
// Rules are common practice (cf. Gould, Behind Bars, Faber 2011; from memory): stems of 3½ spaces, towards the middle
// line from far away; a beam follows its outer notes, at most one space; an accidental holds for its line until the bar.

import { glyph, glyphWidth, round } from "./draw.js";
import { letterOf, signature } from "./pitch.js";
import { beams, headOf, onsets, tuplets } from "./score.js";

const SIGN = { "-2": "doubleFlat", "-1": "flat", 0: "natural", 1: "sharp", 2: "doubleSharp" };
const REST = { 1: "restWhole", 2: "restHalf", 4: "rest4", 8: "rest8", 16: "rest16", 32: "rest32", 64: "rest64" };
const FLAG = { 8: "flag8", 16: "flag16", 32: "flag32", 64: "flag64" };
const STEM = 3.5, SHORTEST = 2.6, BEAM = 0.5, BETWEEN = 0.75;

/** {svg, heads, top, bottom}: the bar, where its heads are, and how far it reaches. */
export function barNotes({ bar, entries, place, size, fifths, middle, before }) {
  const heads = measure({ entries, place, size, middle });
  const groups = beams(entries, bar.metre);
  const grouped = new Set(groups.flat());
  for (const group of groups) beamUp(group.map((i) => heads[i]), size);
  heads.forEach((head, i) => { if (!grouped.has(i) && head.pitch) alone(head, size); });
  const signs = accidentals(entries, fifths, before);
  const parts = heads.map((head, i) => entrySvg({ head, entry: entries[i], sign: signs[i], size, alone: !grouped.has(i), whole: entries.length === 1 && entries[i].length === bar.length, place }));
  for (const group of groups) parts.push(beamSvg(group.map((i) => heads[i]), size));
  for (const [first, last] of tuplets(entries)) parts.push(tupletSvg({ first, last, heads, entries, groups, size }));
  const ys = heads.filter((head) => head.pitch).flatMap((head) => [head.y, head.tip ?? head.y, head.y + (head.tie || entries[heads.indexOf(head)].guess ? (head.up ? 1.9 : -1.9) * size : 0)]);
  return { svg: parts.join(""), heads, top: Math.min(0, ...ys), bottom: Math.max(4 * size, ...ys) };
}
export function extents(drawn) { return { top: Math.min(...drawn.map((bar) => bar.top)), bottom: Math.max(...drawn.map((bar) => bar.bottom)) }; }

function measure({ entries, place, size, middle }) {
  const starts = onsets(entries);
  return entries.map((entry, i) => {
    const { value, dots } = headOf(entry);
    const up = entry.pitch ? entry.pitch.step < middle : true;
    const y = entry.pitch ? 2 * size - ((entry.pitch.step - middle) * size) / 2 : 2 * size;
    return { x: place.xs[i], y, up, value, dots, pitch: entry.pitch, tie: entry.tie, at: starts[i], far: entry.pitch ? entry.pitch.step - middle : 0 };
  });
}

const stemX = (head, size) => head.x + (head.up ? glyphWidth("headBlack", size) - size * 0.06 : size * 0.06);

function alone(head, size) {
  if (head.value === 1) { head.tip = head.y; return; }
  const reach = (STEM + (head.value === 32 ? 0.5 : head.value === 64 ? 1 : 0)) * size;
  const tip = head.y + (head.up ? -reach : reach);
  head.tip = Math.abs(head.far) > 7 ? (head.up ? Math.min(tip, 2 * size) : Math.max(tip, 2 * size)) : tip;
}

/** One direction for the group, one line for its tips. */
function beamUp(group, size) {
  const far = group.reduce((most, head) => (Math.abs(head.far) > Math.abs(most) ? head.far : most), 0);
  const up = far === 0 ? group.reduce((sum, head) => sum + head.far, 0) < 0 : far < 0;
  for (const head of group) head.up = up;
  const first = group[0], last = group.at(-1), x0 = stemX(first, size), x1 = stemX(last, size);
  const most = Math.min(size, (x1 - x0) * 0.12);
  const rise = Math.max(-most, Math.min(most, (last.y - first.y) * 0.4));
  const inner = group.slice(1, -1).some((head) => (up ? head.y < Math.min(first.y, last.y) : head.y > Math.max(first.y, last.y)));
  const slope = inner || x1 === x0 ? 0 : rise / (x1 - x0);
  const levels = Math.max(...group.map((head) => levelOf(head)));
  const shortest = (SHORTEST + (levels - 1) * BETWEEN * 0.8) * size;
  const line = (head) => slope * (stemX(head, size) - x0);
  const want = group.map((head) => (up ? head.y - STEM * size - line(head) : head.y + STEM * size - line(head)));
  const must = group.map((head) => (up ? head.y - shortest - line(head) : head.y + shortest - line(head)));
  const mean = want.reduce((sum, y) => sum + y, 0) / want.length;
  let base = up ? Math.min(mean, ...must) : Math.max(mean, ...must);
  base = up ? Math.min(base, 2 * size - Math.min(0, slope * (x1 - x0))) : Math.max(base, 2 * size - Math.max(0, slope * (x1 - x0)));
  for (const head of group) head.tip = base + line(head);
}
const levelOf = (head) => Math.log2(head.value) - 2;

function beamSvg(group, size) {
  const dir = group[0].up ? 1 : -1, parts = [];
  const most = Math.max(...group.map(levelOf));
  for (let level = 1; level <= most; level += 1) {
    let run = [];
    const close = () => { if (run.length) parts.push(beamPiece(run, group, level, dir, size)); run = []; };
    for (const head of group) if (levelOf(head) >= level) run.push(head); else close();
    close();
  }
  return parts.join("");
}
function beamPiece(run, group, level, dir, size) {
  const off = dir * (level - 1) * BETWEEN * size, thick = dir * BEAM * size;
  let x0 = stemX(run[0], size) - size * 0.06, x1 = stemX(run.at(-1), size) + size * 0.06, y0 = run[0].tip, y1 = run.at(-1).tip;
  if (run.length === 1) { // a stub, towards its neighbour
    const at = group.indexOf(run[0]), other = group[at > 0 ? at - 1 : 1], far = stemX(other, size), here = stemX(run[0], size);
    const slope = (other.tip - run[0].tip) / (far - here), by = Math.sign(far - here) * Math.min(size * 1.1, Math.abs(far - here) * 0.45);
    if (by < 0) { x0 = here + by; y0 = run[0].tip + slope * by; } else { x1 = here + by; y1 = run[0].tip + slope * by; }
  }
  return `<path class="beam" d="M${round(x0)} ${round(y0 + off)} L${round(x1)} ${round(y1 + off)} L${round(x1)} ${round(y1 + off + thick)} L${round(x0)} ${round(y0 + off + thick)}Z"/>`;
}

/**
 * The sign in front of every entry, null where the signature or a note before says it already. The first note on a line that was
 * altered in the bar `before` is reminded of its own sign; a note tied over the bar line keeps its sign without saying it again.
 */
export function accidentals(entries, fifths, before = []) {
  const holds = new Map(), base = signature(fifths), altered = new Map();
  for (const { pitch } of before) if (pitch) altered.set(pitch.step, pitch.alter);
  return entries.map((entry, i) => {
    if (!entry.pitch) return null;
    const { step, alter } = entry.pitch, own = base[letterOf(entry.pitch)], known = holds.has(step), now = holds.get(step) ?? own;
    const from = i > 0 ? entries[i - 1] : before.at(-1);
    const tied = Boolean(from?.tie) && from.pitch?.step === step && from.pitch.alter === alter;
    if (tied && i === 0) return null;
    const reminded = !known && (altered.get(step) ?? own) !== alter;
    holds.set(step, alter);
    return (alter === now && !reminded) || tied ? null : SIGN[alter];
  });
}

function entrySvg({ head, entry, sign, size, alone: single, whole, place }) {
  const kind = ["solo-note", entry.pitch ? "" : "solo-rest", entry.ghost ? "is-ghost" : "", entry.guess ? "is-guess" : ""].filter(Boolean).join(" ");
  const body = entry.pitch ? noteSvg(head, entry, sign, size, single) : restSvg(head, whole, size, place);
  return `<g class="${kind}" data-at="${head.at}">${body}${dotsSvg(head, size)}</g>`;
}
function restSvg(head, whole, size, place) {
  if (whole) return glyph("restWhole", (place.x0 + place.x1) / 2 - size * 0.6, size, size);
  return glyph(REST[head.value], head.x, head.value === 1 ? size : 2 * size, size);
}
function noteSvg(head, entry, sign, size, single) {
  const parts = [ledgers(head, size)];
  const name = head.value === 1 ? "headWhole" : head.value === 2 ? "headHalf" : "headBlack", wide = glyphWidth(name, size);
  if (sign) parts.push(glyph(sign, head.x - glyphWidth(sign, size) - size * (entry.ghost ? 0.75 : 0.25), head.y, size, "sign"));
  parts.push(glyph(name, head.x, head.y, size, "head"));
  if (entry.ghost) parts.push(glyph("parenLeft", head.x - size * 0.75, head.y, size), glyph("parenRight", head.x + wide + size * 0.1, head.y, size));
  if (entry.guess) parts.push(`<circle class="guess" cx="${round(head.x + wide / 2)}" cy="${round(head.y)}" r="${round(size * 1.25)}"/>`);
  if (head.value > 1) {
    const x = stemX(head, size), from = head.y + (head.up ? -size * 0.16 : size * 0.16);
    parts.push(`<line class="stem" x1="${round(x)}" x2="${round(x)}" y1="${round(from)}" y2="${round(head.tip)}"/>`);
    if (single && head.value >= 8) parts.push(glyph(`${FLAG[head.value]}${head.up ? "Up" : "Down"}`, x - size * 0.06, head.tip, size));
  }
  return parts.join("");
}
function ledgers(head, size) {
  let lines = "";
  const wide = glyphWidth("headBlack", size), draw = (y) => { lines += `<line class="ledger" x1="${round(head.x - size * 0.4)}" x2="${round(head.x + wide + size * 0.4)}" y1="${round(y)}" y2="${round(y)}"/>`; };
  for (let y = -size; y >= head.y - 0.01; y -= size) draw(y);
  for (let y = 5 * size; y <= head.y + 0.01; y += size) draw(y);
  return lines;
}
function dotsSvg(head, size) {
  const onLine = Math.abs((head.y / size) % 1) < 0.01;
  const wide = head.pitch ? glyphWidth(head.value <= 2 ? "headHalf" : "headBlack", size) : size * 1.1;
  let dots = "";
  for (let i = 0; i < head.dots; i += 1) dots += `<circle class="dot" cx="${round(head.x + wide + size * (0.55 + 0.55 * i))}" cy="${round(head.y - (onLine ? size / 2 : 0))}" r="${round(size * 0.2)}"/>`;
  return dots;
}

function tupletSvg({ first, last, heads, entries, groups, size }) {
  const group = heads.slice(first, last + 1), notes = group.filter((head) => head.pitch);
  const up = notes.length ? notes.filter((head) => head.up).length * 2 >= notes.length : true;
  const under = groups.some((beam) => beam[0] === first && beam.at(-1) === last);
  const edge = up ? Math.min(-size * 0.4, ...notes.map((head) => Math.min(head.tip ?? head.y, head.y))) - size * 0.55 : Math.max(4.4 * size, ...notes.map((head) => Math.max(head.tip ?? head.y, head.y))) + size * 1.35;
  const x0 = group[0].x, x1 = group.at(-1).x + size * 1.2, centre = (x0 + x1) / 2;
  const digit = `<text class="solo-tuplet" x="${round(centre)}" y="${round(edge)}" font-size="${round(size * 1.5)}">${entries[first].tuplet}</text>`;
  if (under) return digit;
  const y = edge - size * 0.45, hook = up ? size * 0.6 : -size * 0.6;
  return `${digit}<path class="bracket" d="M${round(x0)} ${round(y + hook)} V${round(y)} H${round(centre - size * 0.7)} M${round(centre + size * 0.7)} ${round(y)} H${round(x1)} V${round(y + hook)}"/>`;
}
