// Two ways to give a note without typing: a small keyboard and a staff. Both only fill a text field with spelled
// names, so the answer that is saved is always text, and typing stays possible.
//
// <input data-picker="notes" data-clef="treble" data-fifths="-3" data-many="yes">
//   data-clef    treble or bass, for the staff
//   data-fifths  the key signature: decides flats or sharps, and what a line of the staff means
//   data-many    "no": a note replaces what is there; otherwise it is added
// <div data-notepicker-dock data-for="input.ask__in" …> is one picker for many fields.

import { NoteStaff, SIGNS } from "./note-staff.js";

const SHARPS = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const FLATS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];

export function display(name) {
  return name.replace(/b/g, "♭").replace(/#/g, "♯");
}

export function spoken(name) {
  const sign = SIGNS[name.slice(1)] ?? "";
  return sign === "natural" || sign === "" ? name[0] : `${name[0]} ${sign}`;
}

function element(name, attributes = {}, text = "") {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text) made.textContent = text;
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

// The buttons and panels, one panel open at a time. `target` gives the field to fill, `about` has clef and fifths in its dataset.
function build(target, about, label) {
  counter += 1;
  const box = element("div", { class: "notepicker" });
  const row = element("div", { class: "notepicker__row" });
  const said = element("p", { class: "visually-hidden", role: "status" });
  const panels = { Keyboard: keyboard(target, about, label, said), Staff: staff(target, about, label, said) };
  const buttons = new Map();
  const open = (wanted) => {
    for (const [name, panel] of Object.entries(panels)) {
      panel.hidden = name !== wanted;
      buttons.get(name).setAttribute("aria-expanded", String(name === wanted));
    }
    box.classList.toggle("notepicker--open", Boolean(wanted));
    panels.Staff.dispatchEvent(new Event("shown"));
    // A panel below its own field may push it out of sight.
    if (wanted && target() === about) requestAnimationFrame(() => target()?.scrollIntoView({ block: "nearest" }));
  };
  for (const [name, panel] of Object.entries(panels)) {
    panel.id = `notepicker-${counter}-${name.toLowerCase()}`;
    panel.hidden = true;
    const button = element(
      "button",
      { type: "button", class: "button button--quiet notepicker__open", "aria-expanded": "false", "aria-controls": panel.id, "aria-label": `${name} for ${label}` },
      name,
    );
    buttons.set(name, button);
    button.addEventListener("click", () => open(panel.hidden ? name : ""));
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
  const box = build(() => current ?? fields()[0], dock, "the field you are in");
  // A press must not take the focus out of the field: what is kept in sight is the field that has it.
  box.addEventListener("pointerdown", (event) => { if (document.activeElement === current) event.preventDefault(); });
  dock.append(box);
}

function keyboard(target, about, label, said) {
  const panel = element("div");
  const keys = element("div", { class: "keys-board__keys", role: "group", "aria-label": `Keyboard for ${label}` });
  let flats = Number(about.dataset.fifths || 0) <= 0;
  const draw = () => {
    keys.replaceChildren(
      ...(flats ? FLATS : SHARPS).map((name) => {
        const black = name.length > 1 ? " keys-board__key--black" : "";
        const key = element("button", { type: "button", class: `keys-board__key${black}`, "aria-label": spoken(name) }, display(name));
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
  const sheet = new NoteStaff({
    field: target, clef: about.dataset.clef === "bass" ? "bass" : "treble", fifths: Number(about.dataset.fifths || 0), label, named: spoken,
    give: (name) => {
      give(target(), name);
      said.textContent = `${spoken(name)} given`;
    },
  });
  for (const what of ["input", "focusin"]) document.addEventListener(what, (event) => { if (!panel.hidden && event.target === target()) sheet.draw(); });
  panel.addEventListener("shown", () => sheet.draw());
  const row = element("div", { class: "notepicker__row", role: "group", "aria-label": "Accidental" });
  const choices = [[null, "As in the key"], ["bb", "♭♭"], ["b", "♭"], ["", "♮"], ["#", "♯"], ["##", "♯♯"]];
  for (const [value, text] of choices) {
    const button = element("button", { type: "button", class: "button button--quiet", "aria-pressed": String(value === null) }, text);
    if (value !== null) button.setAttribute("aria-label", SIGNS[value]);
    button.addEventListener("click", () => {
      sheet.accidental(value);
      for (const other of row.children) other.setAttribute("aria-pressed", String(other === button));
    });
    row.append(button);
  }
  panel.append(sheet.picture, row);
  return panel;
}

export function attachAll(root = document) {
  for (const field of root.querySelectorAll("input[data-picker='notes']")) attach(field);
  for (const dock of root.querySelectorAll("[data-notepicker-dock]")) attachDock(dock);
}

attachAll();
document.addEventListener("htmx:after:swap", () => attachAll());
