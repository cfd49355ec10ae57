// The notes of a solo in the browser: bars of entries, what they add up to, how they are beamed. Pure.
// An entry is {pitch | null, length, tuplet, tie, ghost, guess}; lengths are whole ticks, `quarter` of them a quarter note
// (tunes/solos/notes.py stores the same as fractions). Pitches in here are as printed.

import * as P from "./pitch.js";

export const QUARTER = 1680;
export const VALUES = [[1, 4 * QUARTER], [2, 2 * QUARTER], [4, QUARTER], [8, QUARTER / 2], [16, QUARTER / 4], [32, QUARTER / 8], [64, QUARTER / 16]];
export const IN_TIME_OF = { 3: 2, 5: 4, 6: 4, 7: 4 };
const NAMES = { 1: "whole note", 2: "half note", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th" };

export function read(stored, count, shift) {
  const bars = Array.from({ length: count }, () => []);
  for (const row of stored.notes ?? []) {
    const pitch = row.pitch ? P.parse(row.pitch) : null;
    bars[row.bar - 1]?.push({
      pitch: pitch ? P.moved(pitch, shift) : null, length: ticks(row.length), tuplet: row.tuplet?.[0] ?? 0,
      tie: Boolean(row.tie), ghost: Boolean(row.ghost), guess: Boolean(row.guess),
    });
  }
  return bars;
}
export function write(bars, shift) {
  const back = shift.map((part) => -part);
  const notes = [];
  bars.forEach((bar, index) => {
    let at = 0;
    for (const entry of bar) {
      const row = { bar: index + 1, at: fraction(at), length: fraction(entry.length) };
      if (entry.pitch) row.pitch = P.text(P.moved(entry.pitch, back));
      if (entry.tuplet) row.tuplet = [entry.tuplet, IN_TIME_OF[entry.tuplet]];
      for (const flag of ["tie", "ghost", "guess"]) if (entry[flag]) row[flag] = true;
      notes.push(row);
      at += entry.length;
    }
  });
  return { version: 1, notes };
}
function ticks(text) { const [a, b = 1] = text.split("/").map(Number); return (a * QUARTER) / b; }
function fraction(count) { const by = gcd(count, QUARTER) || 1; return QUARTER / by === 1 ? String(count / QUARTER) : `${count / by}/${QUARTER / by}`; }
function gcd(a, b) { return b ? gcd(b, a % b) : a; }

export const filled = (bar) => bar.reduce((sum, entry) => sum + entry.length, 0);
export const printed = (entry) => (entry.tuplet ? (entry.length * entry.tuplet) / IN_TIME_OF[entry.tuplet] : entry.length);

/** {value, dots} of what a head says; the nearest one for a length that no head has. */
export function headOf(entry) {
  const length = printed(entry);
  for (const [value, whole] of VALUES) {
    for (const [dots, times] of [[0, 1], [1, 1.5], [2, 1.75]]) if (Math.abs(length - whole * times) < 0.01) return { value, dots };
  }
  const [value] = VALUES.find(([, whole]) => whole <= length) ?? [64];
  return { value, dots: 0 };
}
export function lengthWords(entry) {
  const { value, dots } = headOf(entry);
  const dotted = dots ? "dotted " : "";
  return `${dotted}${NAMES[value]}${entry.tuplet === 3 ? ", triplet" : entry.tuplet ? `, ${entry.tuplet} in the time of ${IN_TIME_OF[entry.tuplet]}` : ""}`;
}

/** How a bar adds up: {filled, length, state: empty | short | full | over, words}. Beats are those of the metre. */
export function state(bar, length, unit) {
  const here = filled(bar), beat = (4 * QUARTER) / unit;
  const beats = (ticksHere) => share(ticksHere / beat);
  const all = Math.round(length / beat);
  if (!bar.length) return { filled: 0, length, state: "empty", words: "empty" };
  if (here === length) return { filled: here, length, state: "full", words: "" };
  if (here < length) return { filled: here, length, state: "short", words: `${beats(here)} of ${all}: ${missing(length - here, beat)} missing` };
  return { filled: here, length, state: "over", words: `${missing(here - length, beat)} too many` };
}
function missing(left, beat) { const count = left / beat; return `${share(count)} beat${count > 1 ? "s" : ""}`; }
/** @type {[number, string][]} */
const PARTS = [[1 / 2, "½"], [1 / 4, "¼"], [3 / 4, "¾"], [1 / 3, "⅓"], [2 / 3, "⅔"], [1 / 8, "⅛"], [3 / 8, "⅜"], [5 / 8, "⅝"], [7 / 8, "⅞"], [1 / 6, "⅙"], [5 / 6, "⅚"]];
export function share(count) {
  const whole = Math.floor(count + 1e-6), rest = count - whole;
  if (rest < 1e-6) return String(whole);
  const part = PARTS.find(([value]) => Math.abs(value - rest) < 1e-6)?.[1] ?? rest.toFixed(2).replace(/^0/, "");
  return whole ? `${whole}${part}` : part;
}

/** "beat 3", "the and of 2": where in the bar a tick lies. */
export function placeWords(at, unit) {
  const beat = (4 * QUARTER) / unit, whole = Math.floor(at / beat), rest = at - whole * beat;
  if (rest === 0) return `beat ${whole + 1}`;
  if (rest * 2 === beat) return `the and of ${whole + 1}`;
  return `${share(rest / beat)} after beat ${whole + 1}`;
}

/** Start of every entry, in ticks of its bar. */
export function onsets(bar) { let at = 0; return bar.map((entry) => { const here = at; at += entry.length; return here; }); }

/** Tuplets of a bar as [first, last] places: a group ends where it fills a half, a whole or two beats. */
export function tuplets(bar) {
  const found = [];
  let first = -1, sum = 0;
  bar.forEach((entry, index) => {
    if (first >= 0 && bar[first].tuplet !== entry.tuplet) { found.push([first, index - 1]); first = -1; }
    if (!entry.tuplet) return;
    if (first < 0) { first = index; sum = 0; }
    sum += entry.length;
    if (index > first && complete(sum)) { found.push([first, index]); first = -1; }
  });
  if (first >= 0) found.push([first, bar.length - 1]);
  return found;
}
export const complete = (sum) => [QUARTER / 2, QUARTER, 2 * QUARTER, 4 * QUARTER].includes(sum);
export const openTuplet = (bar) => { const last = tuplets(bar).at(-1); return Boolean(last) && last[1] === bar.length - 1 && !complete(filled(bar.slice(last[0]))); };

/** Beam groups of a bar as lists of places. Eighths of a half bar go together in 4/4, everything else by the beat. */
export function beams(bar, [count, unit]) {
  const starts = onsets(bar), found = [];
  const beamed = (entry) => entry.pitch && headOf(entry).value >= 8;
  const wide = unit === 4 && count % 2 === 0 ? 2 * QUARTER : 0;
  const compound = unit === 8 && count % 3 === 0;
  const beat = compound ? 1.5 * QUARTER : QUARTER;
  const plain = (half) => bar.every((entry, i) => Math.floor(starts[i] / wide) !== half || (headOf(entry).value <= 8 && !entry.tuplet));
  const groupOf = (at) => { const half = wide ? Math.floor(at / wide) : 0; return wide && plain(half) ? `h${half}` : `b${Math.floor(at / beat)}`; };
  let run = [], group = null;
  const close = () => { if (run.length > 1) found.push(run); run = []; group = null; };
  bar.forEach((entry, index) => {
    const here = groupOf(starts[index]);
    if (!beamed(entry)) close();
    else if (here === group) run.push(index);
    else { close(); run = [index]; group = here; }
  });
  close();
  return found;
}

/** Notes as heard: {onset, length, midi, bar, place}, ticks from the first bar; `starts` are those of the bars. Ties joined. */
export function sounding(bars, starts, lengths, shift) {
  const found = [];
  let tied = false;
  bars.forEach((bar, index) => {
    let at = 0;
    bar.forEach((entry, place) => {
      const end = Math.min(at + entry.length, lengths[index]);
      if (entry.pitch && at < lengths[index]) {
        const number = P.midi(entry.pitch) - shift[1], onset = starts[index] + at, last = found.at(-1);
        if (tied && last && last.midi === number && last.onset + last.length === onset) last.length += end - at;
        else found.push({ onset, length: end - at, midi: number, bar: index, place, ghost: entry.ghost });
      }
      tied = entry.tie;
      at += entry.length;
    });
  });
  return found;
}
