// The page on which a solo is read: the whole shape, the staves with what was found, the note in focus in words.

import { Hearing } from "./hear.js";
import { lanes } from "./lanes.js";
import * as P from "./pitch.js";
import { onsets, placeWords, read } from "./score.js";
import { shape } from "./shape.js";
import { Systems } from "./systems.js";
import "./signs.js";

const root = document.querySelector("[data-solo-read]");
const raw = document.getElementById("solo-data");
if (root && raw && root.querySelector("[data-staves]")) start(JSON.parse(raw.textContent));
for (const field of document.querySelectorAll("[data-autosend]")) { field.form.querySelector("button").hidden = true; field.addEventListener("change", () => field.form.requestSubmit()); }

function start(data) {
  const find = (name) => root.querySelector(`[data-${name}]`);
  const staves = find("staves"), bars = read(data.notes, data.bars.length, data.shift);
  const found = data.reading;
  found.notes.forEach((note, index) => { note.index = index; const next = found.notes[index + 1]; note.falls = Boolean(next) && heightOf(next) < heightOf(note); });
  function heightOf(note) { return P.midi(bars[note.bar][note.place].pitch); }
  const reading = { byEntry: new Map(found.notes.map((note) => [`${note.bar}:${note.place}`, note])), lines: [...found.lines, ...found.passages], hidden: new Set(found.hidden), fits: new Map((found.fits ?? []).map((fit) => [fit.bar, fit])) };
  const shown = kept();

  // --- which rows, remembered on this device
  function kept() {
    let was = {};
    try { was = JSON.parse(localStorage.getItem("topform-solo-rows") ?? "{}"); } catch { was = {}; }
    const rows = {};
    for (const box of root.querySelectorAll("[data-row]")) { box.checked = was[box.dataset.row] ?? box.checked; rows[box.dataset.row] = box.checked; }
    return rows;
  }
  for (const box of root.querySelectorAll("[data-row]")) box.addEventListener("change", () => {
    shown[box.dataset.row] = box.checked;
    try { localStorage.setItem("topform-solo-rows", JSON.stringify(shown)); } catch { /* it is remembered for this page only */ }
    systems.drawAll();
  });

  const systems = new Systems({
    box: staves, data, notes: (bar) => bars[bar],
    rows: (places, frame, group) => lanes(places, frame, group, reading, shown),
    words: (group) => `Bars ${group[0].number} to ${group.at(-1).number} of chorus ${group[0].chorus}. The same in words is below.`,
    onPress: (bar, place) => focus(bar, Math.min(place, bars[bar].length - 1)),
  });
  for (const bar of systems.bars) bar.asked = reading.hidden.has(bar.index);
  systems.onDrawn = mark;

  // --- one chorus at a time, where there are several
  const choruses = [...new Set(data.bars.map((bar) => bar.chorus))];
  const chooser = find("chorus");
  function spanOf(chorus) { const inside = systems.bars.filter((bar) => bar.chorus === chorus).map((bar) => bar.index); return [inside[0], inside.at(-1)]; }
  function show(chorus) {
    const all = chorus === "all" || !chorus;
    systems.build(all ? [0, data.bars.length - 1] : spanOf(Number(chorus)));
    if (chooser) chooser.value = all ? "all" : String(chorus);
    if (find("chorus-title")) find("chorus-title").textContent = all ? "The notes" : `Chorus ${chorus}`;
  }
  chooser?.addEventListener("change", () => show(chooser.value));
  show(choruses.length > 2 ? choruses[0] : "all");

  // --- the whole shape
  const whole = find("shape");
  function drawShape() {
    const width = Math.max(280, whole.clientWidth);
    whole.innerHTML = shape({ bars: systems.bars, notes: (bar) => bars[bar], lines: found.lines, landing: data.landing, width });
  }
  drawShape();
  new ResizeObserver(drawShape).observe(whole);
  whole.addEventListener("click", (event) => {
    const cell = event.target.closest("[data-go]");
    if (!cell) return;
    const bar = Number(cell.dataset.go);
    if (systems.systemOf(bar) < 0) show(data.bars[bar].chorus);
    staves.children[systems.systemOf(bar)]?.scrollIntoView({ block: "center", behavior: "instant" });
    focus(bar, 0);
  });

  // --- the note in focus: arrows, press, words
  let at = -1;
  function focus(bar, place) {
    const entries = bars[bar];
    let index = found.notes.findIndex((note) => note.bar === bar && note.place >= place);
    if (index < 0 && entries.length) index = found.notes.findIndex((note) => note.bar === bar);
    if (index >= 0) go(index);
  }
  function go(index) {
    at = Math.max(0, Math.min(found.notes.length - 1, index));
    const note = found.notes[at];
    if (systems.systemOf(note.bar) < 0) show(data.bars[note.bar].chorus);
    systems.draw(systems.systemOf(note.bar));
    mark();
    tell(note);
  }
  function mark() {
    for (const old of staves.querySelectorAll(".is-focus")) old.classList.remove("is-focus");
    if (at < 0) return;
    const note = found.notes[at], group = systems.svgBar(note.bar);
    group?.querySelectorAll(".solo-note")[note.place]?.classList.add("is-focus");
    staves.querySelector(`.mark[data-note="${at}"]`)?.classList.add("is-focus");
  }
  function tell(note) {
    const box = find("told"), entry = bars[note.bar][note.place], bar = data.bars[note.bar];
    box.hidden = false;
    const where = `${P.display(entry.pitch).replace(/-?\d+$/, "")}, ${placeWords(onsets(bars[note.bar])[note.place], bar.metre[1])} of bar ${bar.number}`;
    find("told-where").textContent = `${where}: `;
    find("told-words").textContent = note.hidden ? "not told yet. Say first what you hear in this bar." : `${note.words}. ${note.said[0].toUpperCase()}${note.said.slice(1)}.`;
    find("told-source").textContent = note.hidden || !note.source ? "" : `From: ${note.source}.`;
    find("told-word").textContent = note.word ?? "";
    const cut = find("cut");
    if (cut) {
      cut.hidden = Boolean(note.hidden);
      cut.elements.first.value = String(at);
      cut.elements.last.value = String(Math.min(found.notes.length - 1, at + Number(find("cut-count").value || 7) - 1));
    }
    const take = find("take");
    if (take) {
      take.hidden = Boolean(note.hidden);
      take.elements.first.value = String(at);
      take.elements.last.value = String(Math.min(found.notes.length - 1, at + Number(find("take-count").value || 1) - 1));
    }
    const naming = find("name");
    if (naming) {
      const last = found.notes[Math.min(found.notes.length - 1, at + Number(find("name-count").value || 7) - 1)];
      naming.hidden = Boolean(note.hidden || last.hidden);
      naming.elements.first.value = note.onset ?? "";
      naming.elements.last.value = last.onset ?? "";
    }
    const form = find("say");
    if (form) { form.hidden = Boolean(note.hidden); form.elements.first.value = note.onset ?? ""; form.elements.last.value = note.onset ?? ""; }
  }
  find("cut-count")?.addEventListener("input", () => { if (at >= 0) tell(found.notes[at]); });
  find("name-count")?.addEventListener("input", () => { if (at >= 0) tell(found.notes[at]); });
  find("take-count")?.addEventListener("input", () => { if (at >= 0) tell(found.notes[at]); });
  staves.addEventListener("keydown", (event) => {
    const move = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (move) { event.preventDefault(); go(at + move); staves.children[systems.systemOf(found.notes[at].bar)]?.scrollIntoView({ block: "nearest", behavior: "instant" }); }
    else if (event.key === " ") { event.preventDefault(); toggle(); }
  });

  // --- sound
  const button = find("play");
  const hearing = new Hearing({
    audio: root.querySelector("[data-sound]"), data, bars: () => bars,
    onBar: (bar) => { for (const old of staves.querySelectorAll(".is-now")) old.classList.remove("is-now"); if (bar !== null) { if (systems.systemOf(bar) < 0) show(data.bars[bar].chorus); systems.draw(systems.systemOf(bar)); systems.svgBar(bar)?.classList.add("is-now"); } },
    onStop: () => { button.textContent = button.dataset.rest; }, onFail: (words) => { button.textContent = words; },
  });
  function toggle(first = null, last = null) {
    if (hearing.on) { hearing.stop(); return; }
    hearing.countIn = false;
    button.textContent = "Stop";
    const [from, to] = first === null ? systems.range : [first, last];
    hearing.play(from, to, { alone: find("from-recording") ? !find("from-recording").checked : true, again: false });
  }
  button.addEventListener("click", () => toggle());
  for (const one of root.querySelectorAll("[data-hear-bar]")) one.addEventListener("click", () => toggle(Number(one.dataset.hearBar), Number(one.dataset.hearBar)));
  find("hear-focus")?.addEventListener("click", () => { if (at >= 0) toggle(found.notes[at].bar, found.notes[at].bar); });
  window.addEventListener("pagehide", () => hearing.stop(false));
  root.dataset.ready = "1";
}
