// A staff to give notes on: clef and signature of the player's part, what the field holds as notes, and the note that comes next.
// Names have no octave: a note that was given here stays where it was put, any other stands near the one before it (a chord is
// stacked upwards).

import { glyph, glyphWidth, round } from "./solos/draw.js";
import { accidentals } from "./solos/notes.js";
import { headOfSystem, headWidth, MIDDLE } from "./solos/staff.js";
import { signature } from "./solos/pitch.js";

const LETTERS = ["C", "D", "E", "F", "G", "A", "B"];
const ALTERS = { "": 0, b: -1, bb: -2, "#": 1, "##": 2, x: 2 };
export const SIGNS = { "": "natural", b: "flat", "#": "sharp", bb: "double flat", "##": "double sharp" };
const SIZE = 11; // a staff space in pixels
const WIDTH = 360, HEIGHT = 152, TOP = 52; // of the picture; the y of the top line
const REACH = 7; // steps from the middle line, both ways
const SVG = "http://www.w3.org/2000/svg";

/** The notes of a text: [{letter, alter, name}], words that name no note left out. */
export function notesOf(text) {
  return text.replace(/♭/g, "b").replace(/♯/g, "#").split(/[\s,]+/)
    .map((word) => /^([A-Ga-g])(bb|b|##|#|x)?$/.exec(word))
    .filter(Boolean)
    .map(([name, letter, sign = ""]) => ({ name, letter: LETTERS.indexOf(letter.toUpperCase()), alter: ALTERS[sign] }));
}

/** Where they stand: {step, alter} each. `given` holds the steps of notes that were put on this staff. */
export function placed(notes, { middle, stacked, given = [] }) {
  let last = null;
  return notes.map((note, at) => {
    const near = (to) => to + ((((note.letter - to) % 7) + 10) % 7) - 3; // at most three steps away
    const kept = given[at]?.name === note.name ? given[at].step : null;
    let step = kept ?? near(last ?? middle - (stacked ? 3 : 0));
    if (kept === null && stacked && last !== null) step = last + (((note.letter - last) % 7) + 7) % 7 || last + 7;
    if (Math.abs(step - middle) > REACH + 2) step -= 7 * Math.sign(step - middle);
    last = step;
    return { step, alter: note.alter };
  });
}

function drawn(name, attributes = {}) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

export class NoteStaff {
  field; give; clef; fifths; named;

  /** `field()` is the one that is filled, `give(name)` fills it; `about` has clef and fifths. `named(name)` says a name aloud. */
  constructor({ field, give, clef, fifths, label, named }) {
    Object.assign(this, { field, give, clef, fifths, named });
    this.middle = MIDDLE[clef];
    this.step = this.middle;
    this.sign = null; // null: as the key has it
    this.given = new WeakMap(); // field → notes that were put here
    this.picture = drawn("svg", {
      class: "notepicker__staff", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: "xMidYMid meet", tabindex: "0", role: "slider",
      "aria-label": `Note on the staff for ${label}; arrows move it, Enter gives it`, "aria-valuemin": this.middle - REACH, "aria-valuemax": this.middle + REACH,
    });
    this.picture.addEventListener("keydown", (event) => this.key(event));
    // A finger looks for its line: the note is given where it lets go.
    this.picture.addEventListener("pointerdown", (event) => { this.picture.setPointerCapture(event.pointerId); this.held = true; this.point(event); });
    this.picture.addEventListener("pointermove", (event) => this.held && this.point(event));
    this.picture.addEventListener("pointercancel", () => { this.held = false; });
    this.picture.addEventListener("pointerup", (event) => { if (!this.held) return; this.held = false; this.point(event); this.take(); });
    this.draw();
  }

  name() {
    const letter = ((this.step % 7) + 7) % 7;
    const alter = this.sign ?? { "-1": "b", 0: "", 1: "#" }[signature(this.fifths)[letter]];
    return LETTERS[letter] + alter;
  }

  accidental(sign) {
    this.sign = sign;
    this.draw();
  }

  move(step) {
    this.step = Math.min(this.middle + REACH, Math.max(this.middle - REACH, step));
    this.draw();
  }

  point(event) {
    const box = this.picture.getBoundingClientRect();
    const scale = Math.min(box.width / WIDTH, box.height / HEIGHT);
    const y = (event.clientY - box.top - (box.height - HEIGHT * scale) / 2) / scale;
    this.move(this.middle + Math.round((TOP + 2 * SIZE - y) / (SIZE / 2)));
  }

  key(event) {
    const by = { ArrowUp: 1, ArrowDown: -1, PageUp: 7, PageDown: -7 }[event.key];
    if (by) this.move(this.step + by);
    else if (event.key === "Enter" || event.key === " ") this.take();
    else return;
    event.preventDefault();
  }

  take() {
    const field = this.field();
    if (!field || field.readOnly) return;
    const before = field.dataset.many === "no" ? 0 : notesOf(field.value).length;
    const kept = (this.given.get(field) ?? []).slice(0, before);
    kept[before] = { name: this.name(), step: this.step };
    this.given.set(field, kept);
    this.give(this.name());
  }

  draw() {
    const field = this.field();
    const notes = notesOf(field?.value ?? "");
    const pitches = placed(notes, { middle: this.middle, stacked: field?.dataset.stacked !== undefined, given: this.given.get(field) ?? [] });
    const left = headWidth({ fifths: this.fifths, size: SIZE, metre: null }) + SIZE;
    const wide = Math.min(SIZE * 4.2, (WIDTH - left - SIZE * 3.4) / Math.max(1, pitches.length));
    const signs = accidentals(pitches.map((pitch) => ({ pitch })), this.fifths);
    const parts = [0, 1, 2, 3, 4].map((line) => `<line x1="0" x2="${WIDTH}" y1="${TOP + line * SIZE}" y2="${TOP + line * SIZE}"/>`);
    parts.push(headOfSystem({ top: TOP, size: SIZE, fifths: this.fifths, clef: this.clef, metre: null }));
    pitches.forEach((pitch, at) => parts.push(this.note(pitch.step, left + SIZE + at * wide, signs[at])));
    const x = left + SIZE + pitches.length * wide;
    parts.push(`<g class="is-next">${this.note(this.step, x, null)}<text x="${WIDTH - 6}" y="18" text-anchor="end">${this.name().replace(/b/g, "♭").replace(/#/g, "♯")}</text></g>`);
    this.picture.innerHTML = parts.join("");
    this.picture.setAttribute("aria-valuenow", this.step);
    this.picture.setAttribute("aria-valuetext", `${this.named(this.name())}, octave ${Math.floor(this.step / 7)}`);
  }

  note(step, x, sign) {
    const far = this.middle - step, y = TOP + 2 * SIZE + (far * SIZE) / 2, wide = glyphWidth("headBlack", SIZE);
    let svg = "";
    for (let line = 6; line <= Math.abs(far); line += 2) {
      const at = TOP + 2 * SIZE + (Math.sign(far) * line * SIZE) / 2;
      svg += `<line x1="${round(x - 4)}" x2="${round(x + wide + 4)}" y1="${round(at)}" y2="${round(at)}"/>`;
    }
    if (sign) svg += glyph(sign, x - glyphWidth(sign, SIZE) - SIZE * 0.25, y, SIZE);
    return svg + glyph("headBlack", x, y, SIZE);
  }
}
