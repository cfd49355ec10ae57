// The row of buttons for a thumb: everything an answer needs, so that no keyboard has to open.

const ROWS = {
  function: [
    ["1", "2", "3", "4", "5", "6", "7"],
    ["♭|b|flat", "♯|#|sharp", "of| of |of", "sub|sub |substitute", "maj7", "m7", "7|7|seventh"],
    ["ø|ø|half-diminished", "°7|dim7|diminished", "+|aug|augmented", "6|6|sixth chord", "m|m|minor", "key…|:keys|name a key", "space| |space"],
  ],
  keys: [
    ["A", "B", "C", "D", "E", "F", "G"],
    ["♭|b|flat", "♯|#|sharp", "minor| minor|minor", ":|: |then the numbers", "back|:rows|back to numbers"],
  ],
  changes: [
    ["C", "D", "E", "F", "G", "A", "B"],
    ["♭|b|flat", "♯|#|sharp", "m", "7", "maj7", "m7", "6"],
    ["ø|m7b5|half-diminished", "°7|dim7|diminished", "sus", "9", "/|/|slash", "N.C.|N.C.|no chord", "space| |space"],
  ],
  notes: [["C", "D", "E", "F", "G", "A", "B"], ["♭|b|flat", "♯|#|sharp", "space| |space"]],
  form: [["A", "B", "C", "D", "1", "2", "3"], ["4", "5", "6", "7", "8", "9", "0"], ["space| |space", ",|, |comma"]],
  "key-areas": [
    ["1", "2", "3", "4", "5", "6", "7"], ["8", "9", "0", "A", "B", "C", "D"],
    ["E", "F", "G", "♭|b|flat", "♯|#|sharp", "minor| minor|minor"], [",|, |next area", "space| |space", "line|\n|new line"],
  ],
};
const TOOLS = ["◀|:before|field before", "same|:same|repeat the last answer", "⌫|:rub|rub out", "ABC|:board|open the keyboard", "▶|:after|next field"];

const NOTES = new Set(["chord-tones", "guide-tones", "guide-line", "nearest"]); // answered with names of notes

export class Pad {
  constructor(box, { kind, insert, rub, act }) {
    Object.assign(this, { box, insert, rub, act, kind: ROWS[kind] ? kind : NOTES.has(kind) ? "notes" : "function" });
    this.draw(this.kind);
    // A press must not take the focus out of the field.
    box.addEventListener("pointerdown", (event) => event.preventDefault());
    box.addEventListener("click", (event) => this.press(event.target.closest("button")));
  }

  draw(kind) {
    this.box.replaceChildren(...[...ROWS[kind], TOOLS].map((row) => {
      const line = document.createElement("div");
      line.className = "pad__row";
      line.append(...row.map((cell) => {
        const [label, text = label, name = label] = cell.split("|");
        const button = document.createElement("button");
        button.type = "button";
        button.className = "pad__key";
        button.textContent = label;
        button.dataset.text = text;
        button.setAttribute("aria-label", name);
        return button;
      }));
      return line;
    }));
  }

  press(button) {
    if (!button) return;
    const text = button.dataset.text;
    if (text === ":keys") this.draw("keys");
    else if (text === ":rows") this.draw(this.kind);
    else if (text === ":rub") this.rub();
    else if (text.startsWith(":") && text.trim() !== ":") this.act(text.slice(1));
    else { this.insert(text); if (text === ": ") this.draw(this.kind); }
  }
}
