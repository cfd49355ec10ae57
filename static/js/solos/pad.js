// The pad for a thumb: plain letters that never change place, lengths, signs, movement.

import { QUARTER, VALUES } from "./score.js";
import { glyph } from "./draw.js";

const NOTES = [["C", 0], ["D", 1], ["E", 2], ["F", 3], ["G", 4], ["A", 5], ["B", 6]];
const LENGTHS = [[2, "half note"], [4, "quarter"], [8, "eighth"], [16, "16th"]];
const ROWS = [
  [["dot", "dot"], ["triplet", "group", 3], ["tie", "tie"]],
  [["♭", "flat", null, "flat"], ["♮", "natural", null, "natural"], ["♯", "sharp", null, "sharp"], ["8ve ↓", "octaveDown", null, "octave down"], ["8ve ↑", "octaveUp", null, "octave up"], ["ghost", "ghost"], ["more", "more"]],
];
const MOVES = [["←", "left", null, "to the left"], ["→", "right", null, "to the right"], ["rest", "rest"], ["undo", "undo"], ["delete", "back"]];
const MORE = [["whole note", "length", 4 * QUARTER], ["32nd", "length", QUARTER / 8], ["half step ↑", "up"], ["half step ↓", "down"], ["respell", "respell"], ["copy the bar before", "copyBar"], ["guess", "guess"], ["empty the bar", "emptyBar"], ["redo", "redo"], ["bar before", "barBefore"], ["next bar", "nextBar"]];

export class Pad {
  box;

  constructor(box, act) {
    this.box = box;
    box.replaceChildren(
      row(LENGTHS.map(([value, name]) => key(icon(value), "length", ticksOf(value), name, value)).concat(ROWS[0].map(plain))),
      row(ROWS[1].map(plain)), row(NOTES.map(([letter, index]) => key(letter, "letter", index, letter)), "pad__row--notes"), row(MOVES.map(plain), "pad__row--moves"),
    );
    this.more = row(MORE.map(plain), "pad__row--more");
    this.more.hidden = true;
    box.prepend(this.more);
    box.addEventListener("pointerdown", (event) => event.preventDefault());
    box.addEventListener("click", (event) => {
      const pressed = event.target.closest("button");
      if (!pressed) return;
      if (pressed.dataset.name === "more") { this.more.hidden = !this.more.hidden; pressed.setAttribute("aria-expanded", String(!this.more.hidden)); return; }
      act(pressed.dataset.name, pressed.dataset.value === undefined ? undefined : Number(pressed.dataset.value));
    });
  }
  /** What the next note will be, and what the entry under the cursor has. */
  show({ length, entry, tuplet }) {
    for (const one of this.box.querySelectorAll("[data-of]")) one.setAttribute("aria-pressed", String(Number(one.dataset.of) === length.value));
    const on = { dot: Boolean(entry && length.dots), tie: Boolean(entry?.tie), ghost: Boolean(entry?.ghost), group: Boolean(tuplet || entry?.tuplet) };
    for (const [name, pressed] of Object.entries(on)) this.box.querySelector(`[data-name="${name}"]`).setAttribute("aria-pressed", String(pressed));
  }
}
const ticksOf = (value) => VALUES.find(([name]) => name === value)[1];
const plain = ([label, name, value, words]) => key(label, name, value ?? undefined, words ?? label);

function row(keys, kind = "") {
  const made = document.createElement("div");
  made.className = `solo-pad__row ${kind}`.trim();
  made.append(...keys);
  return made;
}
function key(label, name, value, words, of) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "solo-pad__key";
  made.dataset.name = name;
  if (value !== undefined) made.dataset.value = value;
  if (of) made.dataset.of = of;
  made.setAttribute("aria-label", words);
  if (label.startsWith("<")) made.innerHTML = label; else made.textContent = label;
  if (name === "more") made.setAttribute("aria-expanded", "false");
  return made;
}
function icon(value) {
  const head = glyph(value === 2 ? "headHalf" : "headBlack", 4, 24, 7), stem = '<path d="M12.4 23 V4" stroke="currentColor" stroke-width="1.2"/>';
  const flag = value >= 8 ? glyph(value === 8 ? "flag8Up" : "flag16Up", 12, 4, 7) : "";
  return `<svg viewBox="0 0 24 30" width="20" height="25" aria-hidden="true" fill="currentColor">${head}${stem}${flag}</svg>`;
}
