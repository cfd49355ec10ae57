// Two ways to give a note without typing: a small keyboard and a staff. Both only fill a text field with spelled
// names, so the answer that is saved is always text, and typing stays possible.
//
// <input data-picker="notes" data-clef="treble" data-fifths="-3" data-many="yes">
//   data-clef    treble or bass, for the staff
//   data-fifths  the key signature: decides flats or sharps, and what a line of the staff means
//   data-many    "no": a note replaces what is there; otherwise it is added
// <div data-notepicker-dock data-for="input.ask__in" …> is one picker for many fields.

const LETTERS = ["C", "D", "E", "F", "G", "A", "B"];
const SHARPS = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const FLATS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
const SIGNS = { "": "natural", b: "flat", "#": "sharp", bb: "double flat", "##": "double sharp" };
const SVG = "http://www.w3.org/2000/svg";
const BOTTOM_LINE = { treble: 4 * 7 + 2, bass: 2 * 7 + 4 }; // E4 and G2 as diatonic heights, C0 = 0
const STEP = 6; // pixels between a line and the next space

export function display(name) {
  return name.replace(/b/g, "♭").replace(/#/g, "♯");
}

export function spoken(name) {
  const sign = SIGNS[name.slice(1)] ?? "";
  return sign === "natural" || sign === "" ? name[0] : `${name[0]} ${sign}`;
}

// The accidental that a key signature gives a letter.
export function inSignature(letter, fifths) {
  const order = fifths > 0 ? "FCGDAEB" : "BEADGCF";
  return order.slice(0, Math.abs(fifths)).includes(letter) ? (fifths > 0 ? "#" : "b") : "";
}

function element(name, attributes = {}, text = "") {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
}

function drawn(name, attributes = {}) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

// Put a note into the field as if it had been typed, so that whatever saves the field hears of it.
export function give(field, name) {
  if (!field || field.readOnly) return;
  const many = field.dataset.many !== "no";
  const before = field.value.trim();
  field.value = many && before ? `${before} ${name}` : name;
  tell(field);
}

function takeBack(field) {
  if (!field || field.readOnly) return;
  field.value = field.value.trim().split(/\s+/).slice(0, -1).join(" ");
  tell(field);
}

function tell(field) {
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

let counter = 0;

// The buttons and panels. `target` gives the field to fill, `about` has clef and fifths in its dataset.
function build(target, about, label) {
  counter += 1;
  const box = element("div", { class: "notepicker" });
  const row = element("div", { class: "notepicker__row" });
  const said = element("p", { class: "visually-hidden", role: "status" });
  const panels = { Keyboard: keyboard(target, about, label, said), Staff: staff(target, about, label, said) };
  for (const [name, panel] of Object.entries(panels)) {
    panel.id = `notepicker-${counter}-${name.toLowerCase()}`;
    panel.hidden = true;
    const button = element(
      "button",
      { type: "button", class: "button button--quiet notepicker__open", "aria-expanded": "false", "aria-controls": panel.id, "aria-label": `${name} for ${label}` },
      name,
    );
    button.addEventListener("click", () => {
      panel.hidden = !panel.hidden;
      button.setAttribute("aria-expanded", String(!panel.hidden));
      // An open panel may cover the field that it fills.
      if (!panel.hidden) requestAnimationFrame(() => target()?.scrollIntoView({ block: "start" }));
    });
    row.append(button);
  }
  const undo = element("button", { type: "button", class: "button button--quiet notepicker__open", "aria-label": `Take back the last note of ${label}` }, "Take back");
  undo.addEventListener("click", () => {
    takeBack(target());
    said.textContent = target()?.value ? `Now ${target().value}` : "Empty";
  });
  row.append(undo);
  box.append(row, ...Object.values(panels), said);
  return box;
}

// A picker of its own, below one field.
export function attach(field) {
  if (field.dataset.pickerReady) return;
  field.dataset.pickerReady = "yes";
  const label = field.getAttribute("aria-label") || field.labels?.[0]?.textContent.trim() || "this answer";
  field.after(build(() => field, field, label));
}

// One picker for many fields: it fills the one that had the focus last, the first one before that.
export function attachDock(dock) {
  if (dock.dataset.pickerReady) return;
  dock.dataset.pickerReady = "yes";
  const fields = () => [...document.querySelectorAll(dock.dataset.for)];
  let current = null;
  document.addEventListener("focusin", (event) => {
    if (event.target.matches?.(dock.dataset.for)) current = event.target;
  });
  dock.append(build(() => current ?? fields()[0], dock, "the field you are in"));
}

function keyboard(target, about, label, said) {
  const panel = element("div");
  const keys = element("div", { class: "notepicker__keys", role: "group", "aria-label": `Keyboard for ${label}` });
  let flats = Number(about.dataset.fifths || 0) <= 0;
  const draw = () => {
    keys.replaceChildren(
      ...(flats ? FLATS : SHARPS).map((name) => {
        const black = name.length > 1 ? " notepicker__key--black" : "";
        const key = element("button", { type: "button", class: `notepicker__key${black}`, "aria-label": spoken(name) }, display(name));
        key.addEventListener("click", () => {
          give(target(), name);
          said.textContent = `${spoken(name)} given`;
        });
        return key;
      }),
    );
  };
  const turn = element("button", { type: "button", class: "button button--quiet" }, "♭ / ♯");
  turn.setAttribute("aria-label", "Black keys as flats or as sharps");
  turn.addEventListener("click", () => {
    flats = !flats;
    draw();
    said.textContent = flats ? "Black keys are flats" : "Black keys are sharps";
  });
  draw();
  panel.append(keys, turn);
  return panel;
}

function staff(target, about, label, said) {
  const panel = element("div");
  const clef = about.dataset.clef === "bass" ? "bass" : "treble";
  const fifths = Number(about.dataset.fifths || 0);
  const low = BOTTOM_LINE[clef] - 3;
  const high = BOTTOM_LINE[clef] + 11;
  let height = BOTTOM_LINE[clef] + 4;
  let sign = null; // null: as the key has it
  const nameAt = (at) => LETTERS[at % 7] + (sign ?? inSignature(LETTERS[at % 7], fifths));
  const y = (at) => 20 + (high - at) * STEP;
  const picture = drawn("svg", {
    class: "notepicker__staff", viewBox: `0 0 240 ${40 + (high - low) * STEP}`, tabindex: "0", role: "slider",
    "aria-label": `Note on the staff for ${label}; arrows move it, Enter gives it`, "aria-valuemin": low, "aria-valuemax": high,
  });
  for (let line = 0; line < 5; line += 1) {
    const at = y(BOTTOM_LINE[clef] + 2 * line);
    picture.append(drawn("line", { x1: 10, x2: 230, y1: at, y2: at }));
  }
  const ledgers = drawn("g");
  const head = drawn("ellipse", { cx: 120, rx: 7.5, ry: 5.5 });
  const word = drawn("text", { x: 140 });
  picture.append(ledgers, head, word);
  const show = () => {
    head.setAttribute("cy", y(height));
    word.setAttribute("y", y(height) + 5);
    word.textContent = display(nameAt(height));
    const lines = [];
    for (let at = BOTTOM_LINE[clef] - 2; at >= height; at -= 2) lines.push(at);
    for (let at = BOTTOM_LINE[clef] + 10; at <= height; at += 2) lines.push(at);
    ledgers.replaceChildren(...lines.map((at) => drawn("line", { x1: 106, x2: 134, y1: y(at), y2: y(at) })));
    picture.setAttribute("aria-valuenow", height);
    picture.setAttribute("aria-valuetext", `${spoken(nameAt(height))}, octave ${Math.floor(height / 7)}`);
  };
  const giveIt = () => {
    give(target(), nameAt(height));
    said.textContent = `${spoken(nameAt(height))} given`;
  };
  picture.addEventListener("keydown", (event) => {
    const by = { ArrowUp: 1, ArrowDown: -1, PageUp: 7, PageDown: -7 }[event.key];
    if (by) height = Math.min(high, Math.max(low, height + by));
    else if (event.key === "Enter" || event.key === " ") giveIt();
    else return;
    event.preventDefault();
    show();
  });
  picture.addEventListener("click", (event) => {
    const size = picture.getBoundingClientRect();
    const view = picture.viewBox.baseVal;
    const scale = Math.min(size.width / view.width, size.height / view.height);
    const inside = (event.clientY - size.top - (size.height - view.height * scale) / 2) / scale;
    height = Math.min(high, Math.max(low, Math.round(high - (inside - 20) / STEP)));
    show();
    giveIt();
  });
  const row = element("div", { class: "notepicker__row", role: "group", "aria-label": "Accidental" });
  const choices = [[null, "As in the key"], ["bb", "♭♭"], ["b", "♭"], ["", "♮"], ["#", "♯"], ["##", "♯♯"]];
  for (const [value, text] of choices) {
    const button = element("button", { type: "button", class: "button button--quiet", "aria-pressed": String(value === sign) }, text);
    if (value !== null) button.setAttribute("aria-label", SIGNS[value]);
    button.addEventListener("click", () => {
      sign = value;
      for (const other of row.children) other.setAttribute("aria-pressed", String(other === button));
      show();
    });
    row.append(button);
  }
  show();
  panel.append(picture, row);
  return panel;
}

export function attachAll(root = document) {
  for (const field of root.querySelectorAll("input[data-picker='notes']")) attach(field);
  for (const dock of root.querySelectorAll("[data-notepicker-dock]")) attachDock(dock);
}

attachAll();
document.addEventListener("htmx:after:swap", () => attachAll());
