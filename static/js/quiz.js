// The quiz page: fields that save themselves, say how they were understood, and are reached by keys or thumb.

import { Store } from "./quiz-store.js";
import { goTo, keyTarget } from "./quiz-move.js";
import { Pad, rubbed } from "./quiz-pad.js";
import { slots } from "./quiz-slots.js";
import { View } from "./quiz-view.js";
import { letters } from "./keys.js";
import { hearBars } from "./hear_bar.js";

const form = document.getElementById("quiz");
const data = JSON.parse(document.getElementById("quiz-data").textContent);
const fields = [...form.querySelectorAll("[data-field]")];
const byId = new Map(fields.map((field) => [field.dataset.field, field]));
const $ = (name) => form.querySelector(`[data-${name}]`);
const status = $("status");
const dockEcho = $("dock-echo");
const dockSaid = form.querySelector(".dock__said");
const dockPlace = $("dock-place");
const dockTyped = $("dock-typed");
const handIn = $("hand-in");
let current = null;
let lastAnswer = "";
let handing = false;
const PATIENCE = 3000; // for the last echoes before handing in
const thumb = window.matchMedia("(pointer: coarse)").matches;
const view = new View(form.querySelector(".dock"), () => current);

// Fields travel through the store, not with the form.
for (const field of fields) field.removeAttribute("name");

const WORDS = {
  writing: ["Writing", false],
  saving: ["Saving", false],
  offline: ["Not saved: no connection, kept on this device", true],
  server: ["Not saved: the server is busy, kept on this device", true],
  full: ["Not saved: the site’s disk is full, kept on this device", true],
  "signed-out": ["Not saved: you are signed out. Sign in again in another window; kept on this device", true],
  refused: ["Not saved: the server refused it. Reload the page; kept on this device", true],
};

function say(state, at) {
  const [words, bad] = state === "saved" ? [`Saved ${at}`, false] : WORDS[state];
  if (status.textContent !== words) status.textContent = words;
  status.classList.toggle("saved--not", bad);
  status.dataset.state = state;
}

const store = new Store({
  attempt: data.attempt, saveUrl: form.dataset.save, versions: data.versions,
  token: form.elements.csrfmiddlewaretoken.value,
  onStatus: say, onSaved: saved, onConflict: conflict, onClosed: closed,
});

function saved(result, own) {
  const field = byId.get(result.q);
  if (!field || store.waiting.has(result.q) || own) return;
  if (field.value !== result.text && document.activeElement !== field) { field.value = result.text; understand(field); }
}

function conflict(result) {
  const field = byId.get(result.q);
  if (!field) return;
  const place = field.closest("[data-ask]");
  place.querySelector(".conflict")?.remove();
  const box = document.createElement("span");
  box.className = "conflict";
  box.setAttribute("role", "alert");
  const mine = field.value;
  box.append(`Another window saved ${result.text ? `“${result.text}”` : "a blank"} here${result.at ? ` at ${result.at}` : ""}. `);
  box.append(choice("Keep mine", () => { store.versions[result.q] = result.version; store.put(result.q, field.value); }));
  box.append(choice("Take that one", () => { store.versions[result.q] = result.version; field.value = result.text; understand(field); }));
  if (mine === result.text) { store.versions[result.q] = result.version; return; }
  place.append(box);

  function choice(label, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button--second";
    button.textContent = label;
    button.addEventListener("click", () => { act(); box.remove(); goTo(field); count(); });
    return button;
  }
}

// What other windows have written since this one last heard of it: told where this page shows something else.
async function lookAround(fresh = false) {
  for (const row of await store.elsewhere()) {
    const field = byId.get(row.q);
    if (!field || field.value === row.text) { store.versions[row.q] = row.version; continue; }
    if (field.value.trim() && !fresh) { conflict(row); continue; }
    store.versions[row.q] = row.version;
    field.value = row.text;
    understand(field);
    count();
  }
}
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") lookAround(); });
window.addEventListener("focus", () => lookAround());
// A page that is loaded again may have been made just before the last answers of its predecessor arrived.
if (/** @type {any} */ (performance.getEntriesByType("navigation")[0])?.type === "reload") lookAround(true);

function closed() {
  store.stop();
  status.textContent = "This attempt has been handed in. What came later is kept, but does not count.";
  for (const field of fields) field.readOnly = true;
  handIn.textContent = "See what came of it";
}

// --- how an answer is understood

const heard = new Map();
const timers = new Map();

function named(field) {
  let key = "";
  for (const other of fields) {
    if (other === field) break;
    if (other.dataset.home !== field.dataset.home) { key = ""; continue; }
    const found = /^\s*([A-Ga-g][#b♯♭]*\s*(?:m|min|minor|maj|major|dorian|phrygian|lydian|mixolydian|locrian)?)\s*:/.exec(other.value);
    if (found) key = found[1];
  }
  return key;
}

function understand(field, wait = 0) {
  clearTimeout(timers.get(field));
  timers.set(field, setTimeout(() => ask(field), wait));
}

async function ask(field) {
  const text = field.value;
  if (!text.trim()) { show(field, { text: "", ok: true }); return; }
  const query = new URLSearchParams({ kind: field.dataset.kind, q: text, home: field.dataset.home ?? data.home, written: field.dataset.move ?? data.written, named: named(field) });
  for (const name of ["part", "metre", "chord"]) if (field.dataset[name]) query.set(name, field.dataset[name]);
  if (form.dataset.numbers) query.set("quality", "0");
  const key = query.toString();
  if (!heard.has(key)) {
    try {
      const response = await fetch(`${form.dataset.echo}?${key}`, { redirect: "error" });
      if (!response.ok) return;
      heard.set(key, await response.json());
    } catch { return; }   // without a connection nothing is echoed; the answer itself is safe in the store
  }
  if (field.value === text) show(field, heard.get(key));
}

// Answers that could not be read, as the last echo of each says. What nothing is known of counts as read.
const unread = () => fields.filter((field) => field.value.trim() && field.classList.contains("ask__in--no"));

function show(field, said) {
  const echo = document.getElementById(field.getAttribute("aria-describedby"));
  slots(echo, said, field.dataset.notes);
  echo.classList.toggle("ask__echo--no", !said.ok);
  field.classList.toggle("ask__in--no", !said.ok);
  if (field === current) dock(field);
  view.show(current); // what is said under one field moves those below it
}

function dock(field) {
  dockSaid.classList.remove("dock__said--empty");
  const echo = document.getElementById(field.getAttribute("aria-describedby"));
  const place = field.getAttribute("aria-label") ?? field.labels?.[0]?.textContent.trim() ?? "";
  dockPlace.textContent = place;
  dockTyped.textContent = field.value;
  dockEcho.textContent = echo.textContent || (form.classList.contains("by-thumb") ? "" : place);
  dockEcho.classList.toggle("dock__echo--no", echo.classList.contains("ask__echo--no"));
}

// In half a bar a long answer is set smaller rather than cut.
function fit(field) {
  if (field.tagName === "TEXTAREA") return;
  field.classList.remove("ask__in--long");
  field.classList.toggle("ask__in--long", field.scrollWidth > field.clientWidth);
}

// --- typing and moving

function changed(field) {
  store.put(field.dataset.field, field.value);
  if (field.value.trim()) lastAnswer = field.value;
  understand(field, 150);
  fit(field);
  if (field === current) dockTyped.textContent = field.value;
  count();
}

function count() {
  const filled = fields.filter((field) => field.value.trim()).length;
  $("count").textContent = `${filled} of ${fields.length}`;
  asking(false);
}

// The question about blank fields takes the place of the keypad.
function asking(on) {
  $("blank").hidden = !on;
  form.classList.toggle("asking", on);
}

function repeatLast(field) {
  if (!lastAnswer || field.value.trim() || field.readOnly) return;
  field.value = lastAnswer;
  changed(field);
}

form.addEventListener("input", (event) => { if (byId.has(event.target.dataset.field)) changed(event.target); });
form.addEventListener("focusin", (event) => {
  if (!byId.has(event.target.dataset.field)) return;
  current = event.target;
  pad.use(current?.dataset.keypad);
  dock(current);
  view.show(current);
  requestAnimationFrame(() => view.show(current)); // once more after the browser's own scrolling
});
form.addEventListener("focusout", (event) => {
  if (!byId.has(event.target.dataset.field)) return;
  if (event.target.value.trim()) lastAnswer = event.target.value;
  store.hurry();
});
form.addEventListener("keydown", (event) => {
  if (!byId.has(event.target.dataset.field)) return;
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); finish(); return; }
  if (event.key === "?") { event.preventDefault(); openKeys(); return; }
  if (event.key === "=") { event.preventDefault(); repeatLast(event.target); return; }
  const target = keyTarget(event, fields);
  if (target || (event.key === "Enter" && event.target.tagName !== "TEXTAREA")) { event.preventDefault(); if (!goTo(target)) handIn.focus(); }
});

const keys = document.getElementById("keys");
function openKeys() {
  const from = current;
  keys.showModal();
  keys.addEventListener("close", () => from?.focus(), { once: true });
}
// A list of keys is of no use where there are none; the first press of one says that there are.
$("keys").hidden = thumb;
const KEYBOARD = new Set(["Tab", "Shift", "Control", "ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight", "PageUp", "PageDown", "Escape"]);
document.addEventListener("keydown", (event) => { if (event.isTrusted && KEYBOARD.has(event.key)) $("keys").hidden = false; });
$("keys").addEventListener("click", openKeys);
letters({ "?": () => { if (!keys.open) openKeys(); } });

// --- the buttons

const padBox = $("pad");
const padSwitch = $("pad-switch");
const single = fields.length === 1;
const pad = new Pad(padBox, {
  keypad: fields[0]?.dataset.keypad,
  fields: fields.length,
  before: () => { const field = current ?? fields[0]; return field.value.slice(0, caret(field)); },
  insert: (text) => edit((field, at) => { field.setRangeText(text, field.selectionStart === at ? at : field.selectionStart, at, "end"); }),
  rub: () => edit((field, at) => {
    const from = field.selectionStart < at ? field.selectionStart : rubbed(field.value.slice(0, at)).length;
    field.setRangeText("", from, at, "end");
  }),
  act: (what) => {
    if (!current) { goTo(fields[0]); return; }
    const at = fields.indexOf(current);
    if (what === "before") goTo(fields[at - 1]);
    else if (what === "after") goTo(fields[at + 1]);
    else if (what === "same") repeatLast(current);
    else if (what === "left" || what === "right") step(what === "left" ? -1 : 1);
    else if (what === "board") buttons(false);
  },
  refuse: (words) => { dockSaid.classList.remove("dock__said--empty"); dockEcho.textContent = words; dockEcho.classList.add("dock__echo--no"); },
});

// The keypad writes and rubs out at the end of the answer, wherever the finger fell into the field. A field that
// stands alone is longer and has keys for the caret: there it works at the caret.
function caret(field) { return single ? field.selectionEnd : field.value.length; }

function step(way) {
  const at = Math.min(Math.max(current.selectionEnd + way, 0), current.value.length);
  current.focus({ preventScroll: true });
  current.setSelectionRange(at, at);
}

function edit(change) {
  const field = current ?? fields[0];
  if (!field || field.readOnly) return;
  if (document.activeElement !== field) field.focus({ preventScroll: true });
  if (!single) field.setSelectionRange(field.value.length, field.value.length);
  change(field, caret(field));
  changed(field);
}

// With the buttons out, the device's own keyboard stays shut until asked for.
function board(open) {
  for (const field of fields) field.inputMode = open ? "text" : "none";
  if (open && current) { current.blur(); current.focus(); }
}

function buttons(on) {
  padBox.hidden = !on;
  padSwitch.setAttribute("aria-pressed", String(on));
  form.classList.toggle("by-thumb", on);
  board(!on || !thumb);
  if (current) dock(current);
}
padSwitch.hidden = false;
padSwitch.addEventListener("click", () => { buttons(padBox.hidden); if (current) goTo(current); });
buttons(thumb);

// On a phone what is asked folds away, so that the chart has the screen.
const lead = document.querySelector("[data-lead]");
const narrow = window.matchMedia("(max-width: 40rem)");
function fold() { if (lead) lead.open = !narrow.matches; }
narrow.addEventListener("change", fold);
fold();

// --- handing in

async function finish({ anyway = false } = {}) {
  if (handing) return;
  if (!anyway) {
    const asked = Promise.all(fields.map((field) => { clearTimeout(timers.get(field)); return ask(field); }));
    await Promise.race([asked, new Promise((done) => { setTimeout(done, PATIENCE); })]);
  }
  const blank = fields.filter((field) => !field.value.trim());
  const unclear = unread();
  if ((blank.length || unclear.length) && !anyway && !store.stopped) {
    const words = [];
    if (blank.length) words.push(blank.length === 1 ? "One field is blank." : `${blank.length} fields are blank.`);
    if (unclear.length) words.push(unclear.length === 1 ? "One answer cannot be read:" : `${unclear.length} answers cannot be read:`);
    $("blank-text").textContent = words.join(" ");
    $("first-blank").textContent = unclear.length ? "Go to the first of them" : "Go to the first blank";
    list(unclear);
    asking(true);
    $("first-blank").focus({ preventScroll: true });
    return;
  }
  handing = true;
  handIn.setAttribute("aria-disabled", "true");
  const safe = store.stopped || await store.flush();
  if (safe && !store.stopped) await lookAround();
  const unsure = form.querySelector(".conflict");
  if ((!safe && !store.stopped) || unsure) {
    handing = false;
    handIn.removeAttribute("aria-disabled");
    if (unsure) { status.textContent = "Not handed in: choose which answer to keep first."; unsure.querySelector("button").focus(); }
    else status.textContent = "Not handed in: no connection. Your answers are kept on this device.";
    status.classList.add("saved--not");
    return;
  }
  form.submit();
}
// The answers that cannot be read, each a way back to its field.
function list(unclear) {
  const box = $("unread");
  box.hidden = !unclear.length;
  box.replaceChildren(...unclear.slice(0, 12).map((field) => {
    const row = document.createElement("li");
    const way = document.createElement("button");
    way.type = "button";
    way.className = "button button--quiet";
    const place = field.getAttribute("aria-label") ?? field.labels?.[0]?.textContent.trim() ?? "";
    way.textContent = `${place ? `${place}: ` : ""}“${field.value.trim()}”`;
    way.addEventListener("click", () => { asking(false); goTo(field); });
    row.append(way);
    return row;
  }));
}

form.addEventListener("submit", (event) => { event.preventDefault(); finish(); });
$("hand-in-anyway").addEventListener("click", () => finish({ anyway: true }));
$("first-blank").addEventListener("click", () => { asking(false); goTo(fields.find((field) => !field.value.trim()) ?? unread()[0]); });

// --- changes by ear: the recording, bar by bar

const ear = form.querySelector("[data-by-ear]");
if (ear) hearBars(ear, { times: data.times, bar: () => (current ?? fields[0]).dataset.written, say: (words) => { status.textContent = words; } });

// --- what an earlier window left behind

for (const { rows } of store.leftovers()) {
  for (const row of rows) { const field = byId.get(row.q); if (field) field.value = row.text; }
}
store.flush();
for (const field of fields) if (field.value.trim()) understand(field, 50); else show(field, { text: "", ok: true });
for (const field of fields) fit(field);
count();
// At a desk the first blank field waits for the first answer; on a phone the page is read first, and who comes back finds the
// place where they stopped.
const blank = fields.find((field) => !field.value.trim());
const back = blank && fields.some((field) => field.value.trim());
if (!location.hash && (!thumb || back)) goTo(blank ?? fields[0]);
form.dataset.ready = "1";
