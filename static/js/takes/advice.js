// The machine's advice on the staff: a sign and a word under its note; pressed, it says more, plays the take from there,
// or the model. For an instructor nothing stands there until the advice is switched on.
import { voices } from "../synth.js";

const LEAST = 46; // pixels between two words in one row
let context = null;

const root = () => document.querySelector("[data-take]");
const rows = () => JSON.parse(document.querySelector("#advice-data")?.textContent ?? "[]");
const data = () => JSON.parse(document.querySelector("#take-data").textContent);

function isOn() {
  const box = document.querySelector("#take-advice");
  return Boolean(box) && !box.hidden;
}

function make(tag, className, parent) {
  const one = document.createElement(tag);
  one.className = className;
  parent.append(one);
  return one;
}

function clear() {
  document.querySelectorAll(".advice__lane, .advice__panel").forEach((one) => one.remove());
}

// Where note `index` of the chorus stands: the system that holds it, and how far from its left edge, 0 to 1.
function places(staff) {
  const found = [];
  const seen = new Set();
  for (const system of staff.querySelectorAll(".take__system")) {
    const frame = system.querySelector("svg.engraving").getBoundingClientRect();
    for (const note of system.querySelectorAll("svg.engraving [data-note]")) {
      const name = Number(note.dataset.note);
      if (seen.has(name)) continue; // the rest of a tied note
      seen.add(name);
      const head = (note.querySelector(".notehead") ?? note).getBoundingClientRect();
      found.push({ name, system, left: (head.left + head.width / 2 - frame.left) / frame.width, wide: frame.width });
    }
  }
  return found.sort((one, other) => one.name - other.name);
}

function draw() {
  const open = document.querySelector(".advice__mark[aria-expanded='true']")?.dataset.item; // stays open when the staff is laid anew
  clear();
  if (!root() || !isOn()) return;
  const chorus = Number(document.querySelector("[data-chorus]")?.value ?? 1);
  const here = rows().filter((row) => row.chorus === chorus);
  for (const staff of document.querySelectorAll("[data-staff]")) if (staff.offsetParent !== null) onStaff(staff, here);
  if (open) document.querySelector(`.advice__mark[data-item="${open}"]`)?.click();
}

function onStaff(staff, here) {
  const found = places(staff);
  const ends = new Map(); // of each row of words in a system: how far it reaches
  for (const row of here) {
    const place = found[row.index];
    if (!place) continue;
    let lane = place.system.querySelector(".advice__lane");
    if (!lane) {
      lane = make("div", "advice__lane", place.system);
      ends.set(lane, []);
    }
    const button = make("button", `advice__mark${row.contested ? " is-contested" : ""}`, lane);
    button.type = "button";
    button.style.setProperty("--left", place.left);
    make("span", `advice__sign advice__sign--${row.kind}`, button).setAttribute("aria-hidden", "true");
    make("span", "advice__word", button).textContent = row.contested ? "contested" : row.short;
    button.dataset.item = `advice-${row.chorus}-${row.index}-${row.kind}`;
    const item = document.getElementById(button.dataset.item);
    button.setAttribute("aria-label", item?.querySelector("p")?.textContent.trim().replace(/\s+/g, " ") ?? row.words);
    const reach = ends.get(lane);
    const x = place.left * place.wide;
    const half = Math.max(LEAST / 2, button.offsetWidth / 2);
    let level = reach.findIndex((end) => end <= x - half);
    if (level < 0) level = reach.length;
    reach[level] = x + half;
    button.style.setProperty("--row", level);
    lane.style.setProperty("--rows", reach.length);
    button.addEventListener("click", () => open(button, item, place.system));
  }
}

// What the list says of a mark, under its system.
function open(button, item, system) {
  const was = button.getAttribute("aria-expanded") === "true";
  document.querySelectorAll(".advice__panel").forEach((one) => one.remove());
  document.querySelectorAll(".advice__mark").forEach((one) => { one.ariaExpanded = "false"; });
  if (was || !item) return;
  button.ariaExpanded = "true";
  const panel = make("div", "advice__panel no-print", system);
  for (const child of item.children) panel.append(child.cloneNode(true));
  window.htmx?.process(panel);
  panel.scrollIntoView({ block: "nearest" });
}

// The bar of the model: the notes that were wanted, from that one to the end of its bar.
function model(index) {
  const { notes, bars, tempo } = data();
  const first = notes[index];
  if (!first) return;
  context ??= new AudioContext();
  context.resume();
  const bar = bars.find((row) => first[0] >= row[1] - 1e-6 && first[0] < row[1] + row[2]) ?? [0, first[0], 1];
  const beat = 60 / tempo;
  const start = context.currentTime + 0.08;
  for (const [at, length, midi] of notes) {
    if (at < first[0] || at >= bar[1] + bar[2]) continue;
    voices.line(context, context.destination, midi, start + (at - first[0]) * beat, length * beat);
  }
}

document.addEventListener("click", (event) => {
  const go = event.target.closest?.("[data-advice-go]");
  const sound = event.target.closest?.("[data-advice-model]");
  if (go) root().dispatchEvent(new CustomEvent("take:go", { detail: { seconds: Math.max(0, Number(go.dataset.adviceGo) - 0.15), play: true } }));
  if (sound) {
    const deck = root().querySelector("[data-play-words]");
    if (deck?.textContent === "Stop") root().querySelector("[data-play]").click();
    model(Number(sound.dataset.adviceModel));
  }
});
document.addEventListener("change", (event) => {
  if (event.target.matches?.("[data-advice-switch], [data-chorus]")) draw();
});

function mount() {
  document.querySelectorAll("[data-advice-go], [data-advice-model]").forEach((one) => { one.hidden = false; });
  draw();
}

let waiting = 0;
window.addEventListener("resize", () => { clearTimeout(waiting); waiting = setTimeout(draw, 200); });
document.addEventListener("take:mounted", mount);
document.addEventListener("htmx:after:swap", () => { if (root() && "ready" in root().dataset) mount(); });
if (root() && "ready" in root().dataset) mount();
