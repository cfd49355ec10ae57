// What can be done to the notes of a solo, one command a method. Pure: no page, no sound.
//
// The cursor stands on an entry of a bar, or at its end. A letter on an entry changes that entry; at the end it writes
// one more. What follows (longer, dot, tie, half step) changes the entry that the cursor stands on, at the end the one
// just written. Every command is one step of undo.

import * as P from "./pitch.js";
import { QUARTER, VALUES, filled, headOf, onsets, openTuplet, printed, IN_TIME_OF } from "./score.js";

const MOST_UNDO = 400;
const MOST_IN_A_BAR = 96;
const LOWEST = 12, HIGHEST = 52; // letters counted from C0: A1 to G7 as printed, more than any instrument here reads

export class Editor {
  fifths; tones; lengths; range;

  constructor({ bars, lengths, fifths, clef, tones, range = [LOWEST, HIGHEST] }) {
    Object.assign(this, { bars, lengths, fifths, tones, range });
    this.signature = P.signature(fifths);
    this.start = clef === "bass" ? 22 : 34; // the middle line: where a first note is near to
    this.bar = 0;
    this.at = bars[0]?.length ?? 0;
    this.length = QUARTER / 2;
    this.tuplet = 0;
    this.undone = [];
    this.done = [];
  }

  get here() { return this.bars[this.bar]; }
  get onEntry() { return this.at < this.here.length; }
  /** Place of the entry that commands change, -1 when there is none. */
  get target() { return this.onEntry ? this.at : this.here.length - 1; }
  get entry() { return this.here[this.target] ?? null; }

  // Steps: bars are never changed in place, so a step is the list of bars before it.
  step(act) {
    const before = { bars: this.bars, bar: this.bar, at: this.at, length: this.length, tuplet: this.tuplet };
    this.bars = [...this.bars];
    if (act() === false) { this.bars = before.bars; return false; }
    this.done.push(before);
    if (this.done.length > MOST_UNDO) this.done.shift();
    this.undone = [];
    return true;
  }
  undo() { return this.swap(this.done, this.undone); }
  redo() { return this.swap(this.undone, this.done); }
  swap(from, to) {
    const state = from.pop();
    if (!state) return false;
    to.push({ bars: this.bars, bar: this.bar, at: this.at, length: this.length, tuplet: this.tuplet });
    Object.assign(this, state);
    return true;
  }
  put(bar, entries) { this.bars[bar] = entries; }
  replace(place, change) {
    const tied = this.here[place]?.tie && "pitch" in change && change.pitch;
    this.put(this.bar, this.here.map((entry, i) => (i === place ? { ...entry, ...change } : entry)));
    if (tied) this.carry(this.bar, place, change.pitch);
  }
  /** A note that is tied on is one note: its further heads take the pitch too, over the bar line as well. */
  carry(bar, place, pitch) {
    while (this.bars[bar]?.[place]?.tie) {
      [bar, place] = place + 1 < this.bars[bar].length ? [bar, place + 1] : [bar + 1, 0];
      if (!this.bars[bar]?.[place]?.pitch) return;
      this.bars[bar] = this.bars[bar].map((entry, i) => (i === place ? { ...entry, pitch } : entry));
    }
  }

  // Guesses
  /** Places of the notes that are guesses, as [bar, place]. */
  guesses() { return this.bars.flatMap((bar, index) => bar.flatMap((entry, place) => (entry.guess ? [[index, place]] : []))); }
  /** The guess at the cursor, or the next one after it (round to the first). */
  guess() {
    const all = this.guesses();
    return all.find(([bar, place]) => bar > this.bar || (bar === this.bar && place >= this.at)) ?? all[0] ?? null;
  }
  toGuess(after = false) {
    if (after) this.at += 1;
    const found = this.guess();
    if (found) this.go(found[0], found[1]);
    return Boolean(found);
  }
  settle() { const found = this.guess(); return Boolean(found) && this.step(() => { this.go(found[0], found[1]); this.replace(this.at, { guess: false }); }); }
  drop() { const found = this.guess(); return Boolean(found) && this.step(() => { this.go(found[0], found[1]); this.unwrite(found[0], found[1]); }); }
  unwrite(bar, place) {
    for (;;) {
      const tied = this.bars[bar][place].tie;
      this.bars[bar] = this.bars[bar].map((entry, i) => (i === place ? { ...entry, pitch: null, tie: false, ghost: false, guess: false } : entry));
      if (!tied) return;
      [bar, place] = place + 1 < this.bars[bar].length ? [bar, place + 1] : [bar + 1, 0];
      if (!this.bars[bar]?.[place]?.pitch) return;
    }
  }
  takeAll() { return this.guesses().length > 0 && this.step(() => { this.bars = this.bars.map((bar) => (bar.some((entry) => entry.guess) ? bar.map((entry) => ({ ...entry, guess: false })) : bar)); }); }
  /** Suggested bars, where nothing but guesses stands; says how many were left alone. */
  suggest(bars, filled) {
    const free = (index) => this.bars[index].every((entry) => !entry.pitch || entry.guess);
    const left = filled.filter((index) => !free(index)).length;
    this.step(() => {
      const put = filled.filter(free);
      if (!put.length) return false;
      for (const index of put) this.bars[index] = bars[index];
      const first = this.guesses().find(([bar]) => bar === put[0]) ?? [put[0], 0];
      this.go(first[0], first[1]);
      return true;
    });
    return left;
  }

  // Writing
  letter(index, insert = false) { return this.step(() => this.sound(this.near(index), insert)); }
  /** A sounding pitch from a keyboard, as printed. */
  played(number) { return this.step(() => this.sound(P.spelled(number, this.fifths, this.tones(this.bar, this.time())), false)); }
  rest() { return this.step(() => this.sound(null, false)); }
  sound(pitch, insert) {
    if (insert && this.onEntry) return this.insert(this.fresh(pitch));
    if (this.onEntry) { this.replace(this.at, { pitch, tie: pitch ? this.entry.tie : false, guess: false }); this.right(); return true; }
    this.onward();
    if (this.here.length >= MOST_IN_A_BAR) return false;
    const entry = this.fresh(pitch);
    this.put(this.bar, [...this.here, entry]);
    this.at = this.here.length;
    if (this.tuplet && !openTuplet(this.here)) this.tuplet = 0;
    return true;
  }
  insert(entry) {
    if (this.here.length >= MOST_IN_A_BAR) return false;
    this.put(this.bar, [...this.here.slice(0, this.at), entry, ...this.here.slice(this.at)]);
    this.at += 1;
    return true;
  }
  fresh(pitch) {
    const length = this.tuplet ? (this.length * IN_TIME_OF[this.tuplet]) / this.tuplet : this.length;
    return { pitch, length, tuplet: this.tuplet, tie: false, ghost: false, guess: false };
  }
  /** At the end of a full bar the next note stands in the next one, when nothing is written there yet. */
  onward() {
    const full = filled(this.here) >= this.lengths[this.bar];
    if (full && this.bar + 1 < this.bars.length && !this.bars[this.bar + 1].length) { this.bar += 1; this.at = 0; }
  }
  /** The pitch of that letter nearest to the note before and inside the range of the instrument, with the sign that holds there. */
  near(index) {
    const before = this.noteBefore();
    const from = before ? before.step : this.start;
    const base = from - (((from % 7) + 7) % 7) + index;
    const ways = [base - 7, base, base + 7].filter(reachable).sort((a, b) => Math.abs(a - from) - Math.abs(b - from));
    const step = (this.playable(from) ? ways.find((way) => this.playable(way)) : null) ?? ways[0] ?? base;
    return { step, alter: this.holds(step, index) };
  }
  /** Whether the instrument has that step, as its page prints it: lines drift out of it by fourths. */
  playable(step) { return step >= this.range[0] && step <= this.range[1]; }
  holds(step, index) {
    const end = this.onEntry ? this.at : this.willFill() ? 0 : this.here.length;
    for (let i = end - 1; i >= 0; i -= 1) if (this.here[i].pitch?.step === step) return this.here[i].pitch.alter;
    return this.signature[index];
  }
  willFill() { return filled(this.here) >= this.lengths[this.bar] && this.bars[this.bar + 1]?.length === 0; }
  noteBefore() {
    for (let bar = this.bar; bar >= 0; bar -= 1) {
      const row = this.bars[bar], from = bar === this.bar ? (this.onEntry ? this.at : row.length) - 1 : row.length - 1;
      for (let i = from; i >= 0; i -= 1) if (row[i].pitch) return row[i].pitch;
      if (this.bar - bar > 8) break;
    }
    return null;
  }

  // Changing what is there
  change(how) { return this.step(() => { const entry = this.entry; if (!entry) return false; const made = how(entry); if (!made) return false; this.replace(this.target, made); return true; }); }
  pitchTo(how) { return this.change((entry) => entry.pitch && { pitch: how(entry.pitch) }); }
  halfStep(by) { return this.pitchTo((pitch) => P.nudged(pitch, by)); }
  octave(by) { return this.pitchTo((pitch) => (reachable(pitch.step + 7 * by) ? { ...pitch, step: pitch.step + 7 * by } : pitch)); }
  sign(alter) { return this.pitchTo((pitch) => ({ ...pitch, alter })); }
  respell() { return this.pitchTo(P.respelled); }
  flag(name) { return this.change((entry) => entry.pitch && { [name]: !entry[name] }); }
  /** One note value longer (by 1) or shorter (by -1); without an entry it is the length of the next one. */
  longer(by) {
    if (!this.entry) { this.length = neighbour(this.length, by); return true; }
    return this.change((entry) => this.sized(entry, neighbour(printed(entry), by)));
  }
  /** Exactly that length, in ticks as printed: the pad's keys. */
  setLength(length) {
    if (!this.onEntry) { this.length = length; return true; }
    return this.change((entry) => this.sized(entry, length));
  }
  dot() {
    if (!this.entry) return false;
    return this.change((entry) => { const { value, dots } = headOf(entry); const whole = VALUES.find(([name]) => name === value)[1]; return whole < 210 ? null : this.sized(entry, dots ? whole : whole * 1.5); });
  }
  sized(entry, length) { this.length = length; return { length: entry.tuplet ? (length * IN_TIME_OF[entry.tuplet]) / entry.tuplet : length }; }
  /** Three (five, seven) in the time of two (four): the entry, and those written after it until the group is whole. */
  group(count) {
    if (!this.entry) { this.tuplet = this.tuplet === count ? 0 : count; return true; }
    return this.change((entry) => {
      const length = printed(entry), on = entry.tuplet !== count;
      this.tuplet = on && !this.onEntry ? count : 0;
      this.length = length;
      return on ? { tuplet: count, length: (length * IN_TIME_OF[count]) / count } : { tuplet: 0, length };
    });
  }
  /** Tied on: at the end the same note is written once more, so that it may cross the bar line. */
  tie() {
    if (this.onEntry) return this.flag("tie");
    return this.step(() => {
      const entry = this.entry;
      if (!entry?.pitch) return false;
      this.replace(this.target, { tie: true });
      return this.sound(entry.pitch, false);
    });
  }
  erase(back) {
    return this.step(() => {
      const place = back && this.onEntry ? this.at - 1 : this.target;
      if (place < 0) return this.stepBack();
      this.put(this.bar, this.here.filter((_entry, i) => i !== place));
      this.at = Math.min(place, this.here.length);
      return true;
    });
  }
  stepBack() { if (!this.bar) return false; this.bar -= 1; this.at = this.here.length; return true; }
  emptyBar() { return this.step(() => { if (!this.here.length) return false; this.put(this.bar, []); this.at = 0; return true; }); }
  copyBar() { return this.step(() => { if (!this.bar) return false; this.put(this.bar, this.bars[this.bar - 1]); this.at = this.here.length; return true; }); }

  // Moving
  right() {
    if (this.onEntry) this.at += 1;
    const full = filled(this.here) >= this.lengths[this.bar];
    if (this.at >= this.here.length && full && this.bar + 1 < this.bars.length && this.here.length) this.go(this.bar + 1, 0);
    this.tuplet = 0;
  }
  arrowRight() { if (!this.onEntry && this.bar + 1 < this.bars.length) { this.go(this.bar + 1, 0); } else this.right(); }
  arrowLeft() {
    if (this.at > 0) this.at -= 1;
    else if (this.bar > 0) this.go(this.bar - 1, Math.max(0, this.bars[this.bar - 1].length - (filled(this.bars[this.bar - 1]) >= this.lengths[this.bar - 1] ? 1 : 0)));
    this.tuplet = 0;
  }
  go(bar, at = null) {
    this.bar = Math.max(0, Math.min(this.bars.length - 1, bar));
    this.at = at === null ? this.here.length : Math.min(at, this.here.length);
    this.tuplet = 0;
  }
  /** Where in the bar the cursor stands, in ticks. */
  time() { return this.onEntry ? onsets(this.here)[this.at] : filled(this.here); }
}

function reachable(step) { return step >= LOWEST && step <= HIGHEST; }

function neighbour(length, by) {
  const at = VALUES.findIndex(([, whole]) => whole <= length);
  const exact = VALUES[at]?.[1] === length;
  const to = by > 0 ? at - 1 : at + (exact ? 1 : 0);
  return VALUES[Math.max(0, Math.min(VALUES.length - 1, to < 0 ? 0 : to))][1];
}
