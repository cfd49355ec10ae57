// The whole of a solo over its form: a row a chorus, how high it lies beat by beat, where notes begin, where lines come
// back; once below, where the changes land. SVG text, pure.

import { round, safe } from "./draw.js";
import { midi } from "./pitch.js";
import { QUARTER, onsets } from "./score.js";

const MOST_ROWS = 8;

/** `bars` with their index, `notes(index)`; `lines` as the reading gives them; `landing` [[bar number, tick, height]]. */
export function shape({ bars, notes, lines, landing, width }) {
  const choruses = [...new Set(bars.map((bar) => bar.chorus))];
  const numbers = Math.max(...bars.map((bar) => bar.number));
  const left = width < 600 ? 34 : 92, each = (width - left - 2) / numbers;
  const tall = choruses.length > 5 ? 40 : 58;
  const heights = bars.flatMap((bar) => notes(bar.index).filter((entry) => entry.pitch).map((entry) => midi(entry.pitch)));
  const low = Math.min(...heights, 60), high = Math.max(...heights, low + 7);
  const y = (number, base) => base - 6 - ((number - low) / (high - low)) * (tall - 26);
  const parts = [];
  const step = each < 22 ? 4 : 1;
  for (let n = 1; n <= numbers; n += 1) if ((n - 1) % step === 0) parts.push(`<text class="shape__number" x="${round(left + (n - 1) * each + 2)}" y="12">${n}</text>`);
  let base = 18;
  for (const chorus of choruses.slice(0, MOST_ROWS)) {
    base += tall;
    const here = bars.filter((bar) => bar.chorus === chorus), count = here.reduce((sum, bar) => sum + notes(bar.index).filter((entry) => entry.pitch).length, 0);
    parts.push(`<text class="shape__name" x="0" y="${base - 14}">${width < 600 ? chorus : `Chorus ${chorus}`}</text><text class="shape__count" x="0" y="${base}">${count}${width < 600 ? "" : " notes"}</text>`);
    parts.push(`<line class="shape__ground" x1="${left}" x2="${width}" y1="${base}" y2="${base}"/>`);
    for (const bar of here) parts.push(oneBar(bar, notes(bar.index), left + (bar.number - 1) * each, each, base, y));
    parts.push(brackets(lines, bars, chorus, left, each, base));
  }
  if (landing.length) { base += 50; parts.push(landingLine(landing, bars, left, each, base, width)); }
  for (let n = 1; n <= numbers; n += 1) parts.unshift(`<line class="shape__bar" x1="${round(left + (n - 1) * each)}" x2="${round(left + (n - 1) * each)}" y1="16" y2="${base}"/>`);
  return `<svg class="shape" viewBox="0 0 ${width} ${base + 22}" width="${width}" height="${base + 22}" aria-hidden="true">${parts.join("")}</svg>`;
}

function oneBar(bar, entries, x0, each, base, y) {
  const starts = onsets(entries), beats = Math.round(bar.length / QUARTER) || 1, at = (tick) => x0 + (each * tick) / bar.length;
  let line = "", ground = "";
  for (let beat = 0; beat < beats; beat += 1) {
    const from = beat * QUARTER, to = from + QUARTER;
    const here = entries.filter((entry, i) => entry.pitch && starts[i] < to && starts[i] + entry.length > from).map((entry) => midi(entry.pitch));
    if (!here.length) { line += " "; continue; }
    const height = round(y(here.reduce((sum, one) => sum + one, 0) / here.length, base));
    line += `${line.endsWith(" ") || !line ? "M" : "L"}${round(at(from))} ${height} L${round(at(to))} ${height}`;
    ground += `M${round(at(from))} ${base} V${height} H${round(at(to))} V${base}Z`;
  }
  const strokes = entries.map((entry, i) => (entry.pitch ? `<line class="shape__onset" x1="${round(at(starts[i]))}" x2="${round(at(starts[i]))}" y1="${base + 2}" y2="${base + 6}"/>` : "")).join("");
  return `<g class="shape__cell" data-go="${bar.index}"><rect class="shape__press" x="${round(x0)}" y="${base - 40}" width="${round(each)}" height="48"/><path class="shape__fill" d="${ground}"/><path class="shape__line" d="${line.trim()}"/>${strokes}</g>`;
}

function brackets(lines, bars, chorus, left, each, base) {
  const place = (index, tick) => { const bar = bars[index]; return left + (bar.number - 1 + tick / bar.length) * each; };
  return lines.slice(0, 3).flatMap((line) => line.places).filter((one) => bars[one.bar]?.chorus === chorus).map((one) => {
    const from = place(one.bar, one.at), to = bars[one.end_bar].chorus === chorus ? place(one.end_bar, one.end_at) : left + each * bars.length;
    return `<path class="shape__bracket" d="M${round(from)} ${base + 8} V${base + 12} H${round(Math.max(to, from + 6))} V${base + 8}"/>`;
  }).join("");
}

function landingLine(landing, bars, left, each, base, width) {
  const form = bars.filter((bar) => bar.chorus === bars[0].chorus || bars.length);
  const lengthOf = (number) => form.find((bar) => bar.number === number)?.length ?? 4 * QUARTER;
  const points = landing.map(([number, tick, height, name]) => ({ x: left + (number - 1 + tick / lengthOf(number)) * each, y: base - 9 * Math.min(4, height), name }));
  let line = "";
  points.forEach((point, i) => { line += `${i ? "L" : "M"}${round(point.x)} ${point.y} L${round(points[i + 1]?.x ?? width)} ${point.y} `; });
  const size = each < 40 ? 0 : 12;
  const chords = size ? points.map((point, i) => ((points[i + 1]?.x ?? width) - point.x > 26 ? `<text class="shape__chord" x="${round(point.x + 2)}" y="${base + 15}">${safe(point.name)}</text>` : "")).join("") : "";
  return `<text class="shape__lands" x="0" y="${base - 4}">${width < 600 ? "lands" : "where it lands"}</text><path class="shape__landing" d="${line}"/>${chords}`;
}
