// The row of buttons for a thumb: everything an answer needs, so that no keyboard has to open.

// Every field names its rows (`data-keypad`, as its kind of question says); one without any is an error, never others by default.
// A cell is "label|text|name"; a row that begins with "Words:" carries them in front. Keys of a row called Quality say
// what kind of chord stands on the number: they never stand in for the number itself.
const ROWS = {
  function: [
    ["Number:", "1", "2", "3", "4", "5", "6", "7"],
    [":", "♭|b|flat", "♯|#|sharp", "of| of |of", "sub|sub |substitute", "key…|:keys|name a key", "space| |space"],
    ["Quality:", "maj7|maj7|major seventh", "m7|m7|minor seventh", "dom7|dom7|dominant seventh", "m|m|minor", "6th| 6th|sixth chord", "ø|ø|half-diminished", "°7|dim7|diminished", "+|aug|augmented"],
  ],
  keys: [
    ["A", "B", "C", "D", "E", "F", "G"],
    ["♭|b|flat", "♯|#|sharp", "minor| minor|minor", ":|: |then the numbers", "back|:rows|back to numbers"],
  ],
  changes: [
    ["Root:", "C", "D", "E", "F", "G", "A", "B"],
    [":", "♭|b|flat", "♯|#|sharp", "/|/|slash", "N.C.|N.C.|no chord", "space| |space"],
    ["Chord:", "maj7", "m7", "7", "m", "6", "9", "ø|m7b5|half-diminished", "°7|dim7|diminished", "sus"],
  ],
  notes: [["C", "D", "E", "F", "G", "A", "B"], ["♭|b|flat", "♯|#|sharp", "space| |space"]],
  // The root, the scale as players name it, and the notes that differ from the key ("none" where none does).
  scale: [
    ["Root:", "C", "D", "E", "F", "G", "A", "B"],
    [":", "♭|b|flat", "♯|#|sharp", ":|: |then the notes that differ", "none|none|no note differs", "space| |space"],
    ["Scale:", "major| major", "dorian| dorian", "phryg.| phrygian|phrygian", "lydian| lydian", "mixol.| mixolydian|mixolydian", "aeolian| aeolian", "locrian| locrian"],
    [":", "mel. minor| melodic minor|melodic minor", "harm. minor| harmonic minor|harmonic minor", "alt.| altered|altered", "whole tone| whole tone", "dim.| diminished|diminished", "½–1| half-whole|half whole", "blues| blues", "penta.| pentatonic|pentatonic"],
    ["Degree:", "♭9| b9|flat nine", "♭13| b13|flat thirteen", "♯11| #11|sharp eleven", "♭7| b7|flat seven", "♮9| nat 9|natural nine"],
  ],
  form: [["A", "B", "C", "D", "1", "2", "3"], ["4", "5", "6", "7", "8", "9", "0"], ["space| |space", ",|, |comma"]],
  "key-areas": [
    ["Bar:", "1", "2", "3", "4", "5", "6", "7", "8", "9", "0"],
    ["Key:", "C", "D", "E", "F", "G", "A", "B", "♭|b|flat", "♯|#|sharp"],
    ["beat| beat |beat", "minor| minor|minor", ",|, |next area", "space| |space", "line|\n|new line"],
  ],
  // The degree over the chord, then what the note does.
  "solo-notes": [
    ["Degree:", "1", "2", "3", "4", "5", "6", "7"],
    [":", "9", "11", "13", "♭|b|flat", "♯|#|sharp", "space| |space"],
    ["It is:", "chord tone| chord tone", "passing| passing", "neighbour| neighbour", "approach| approach", "double| double approach|double approach"],
    [":", "enclosure| enclosure", "delay| delay", "early| anticipation|anticipation", "tension| tension", "open| open"],
  ],
};
const LONG = 7; // letters of a key for which a row gives up the place of its name
const MANY = ["◀|:before|field before", "same|:same|repeat the last answer", "⌫|:rub|rub out", "ABC|:board|open the keyboard", "▶|:after|next field"];
const ONE = ["←|:left|caret left", "→|:right|caret right", "⌫|:rub|rub out", "ABC|:board|open the keyboard"]; // a single field: nowhere to go but along it

// What one press of the rub-out takes away: what one key wrote, where that is more than a letter.
const WRITTEN = / (?:major|dorian|phrygian|lydian|mixolydian|aeolian|locrian|melodic minor|harmonic minor|altered|whole tone|diminished|half-whole|blues|pentatonic|nat 9|[b#](?:7|9|11|13))$|none$| (?:chord tone|passing|neighbour|double approach|approach|enclosure|delay|anticipation|tension|open)$| ?(?:of|sub|beat) $| ?(?:maj7|m7b5|dim7|dom7|aug|6th|minor|N\.C\.)$|, $|: $|.$/su;
export const rubbed = (text) => text.replace(WRITTEN, "");

// Whether the answer up to here has a number for a quality to stand on.
const numbered = (text) => /[1-7iv]/iu.test(text.split(/\bof\b|\bsub|:/iu).pop());

export class Pad {
  box; rub; act; before; refuse; insert;

  /** `insert(text)`, `rub()`, `act(name)` do what a key says; `refuse(words)` tells why one does nothing. */
  constructor(box, { keypad, fields, before, insert, rub, act, refuse }) {
    Object.assign(this, { box, before, insert, rub, act, refuse });
    this.keypad = keypad;
    if (!ROWS[keypad]) throw new Error(`There is no keypad “${keypad}”.`);
    this.tools = fields > 1 ? MANY : ONE;
    this.draw(keypad);
    // A press must not take the focus out of the field.
    box.addEventListener("pointerdown", (event) => event.preventDefault());
    box.addEventListener("click", (event) => this.press(event.target.closest("button")));
  }

  /** Other keys, where questions of several kinds stand on one page. */
  use(keypad) {
    if (!ROWS[keypad] || keypad === this.keypad) return;
    this.keypad = keypad;
    this.draw(keypad);
  }

  draw(keypad) {
    this.box.replaceChildren(...[...ROWS[keypad], this.tools].map((row) => {
      const line = document.createElement("div");
      line.className = "pad__row";
      const [words] = row[0].endsWith(":") && !row[0].includes("|") ? row[0].split(":") : [null];
      if (words !== null) {
        const name = document.createElement("span");
        name.className = "pad__name";
        name.textContent = words;
        line.append(name);
        if (words) { line.setAttribute("role", "group"); line.setAttribute("aria-label", words); }
      }
      if (row.slice(words === null ? 0 : 1).some((cell) => cell.split("|")[0].length >= LONG)) line.classList.add("pad__row--words");
      line.append(...row.slice(words === null ? 0 : 1).map((cell) => key(cell, words)));
      return line;
    }));
  }

  press(button) {
    if (!button) return;
    const text = button.dataset.text;
    if (text === ":keys") this.draw("keys");
    else if (text === ":rows") this.draw(this.keypad);
    else if (text === ":rub") this.rub();
    else if (text.startsWith(":") && text.trim() !== ":") this.act(text.slice(1));
    else if (button.dataset.row === "Quality" && !numbered(this.before())) this.refuse("First the number, then its quality.");
    else { this.insert(text); if (text === ": ") this.draw(this.keypad); }
  }
}

function key(cell, row) {
  const [label, text = label, name = label] = cell.split("|");
  const button = document.createElement("button");
  button.type = "button";
  button.className = "pad__key";
  button.textContent = label;
  button.dataset.text = text;
  if (row) button.dataset.row = row;
  button.setAttribute("aria-label", name);
  return button;
}
