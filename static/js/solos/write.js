// The page on which a solo is written down: keys, pad and MIDI keyboard write into the editor; every step is drawn at
// once, kept on the device and sent.

import { Editor } from "./editor.js";
import { Hearing, Touch } from "./hear.js";
import { Keeper, sameNotes } from "./keep.js";
import * as P from "./pitch.js";
import { cursorBox, rulers } from "./ruler.js";
import { swung } from "../schedule.js";
import { parts } from "./parts.js";
import { QUARTER, headOf, lengthWords, placeWords, read, sounding as asHeard, state, write } from "./score.js";
import { Taps } from "./taps.js";
import { Systems } from "./systems.js";
import { Pad } from "./pad.js";
import { listen } from "./keyboard.js";

const root = document.querySelector("[data-solo-write]");
const data = JSON.parse(document.getElementById("solo-data").textContent);
const find = (name) => root.querySelector(`[data-${name}]`);
const token = root.querySelector("[name=csrfmiddlewaretoken]").value;
const staves = find("staves");

function say(name, words) { const place = find(name); if (place && place.textContent !== words) place.textContent = words; }

const keeper = new Keeper({
  url: root.dataset.draftUrl, token, name: `topform-solo-${data.user}-${data.solo}`, serial: data.serial, notes: data.notes,
  onStatus: (words, bad) => { say("saved", words); find("saved").classList.toggle("saved--not", Boolean(bad)); },
  onOther: conflict,
});
const editor = new Editor({
  bars: read(data.notes, data.bars.length, data.shift), lengths: data.bars.map((bar) => bar.length), fifths: data.fifths, clef: data.clef, range: data.range,
  tones: (bar, at) => data.bars[bar].chords.filter((chord) => chord.at <= at).at(-1)?.tones ?? [],
});
const touch = new Touch();
let parting = new Map(); // bar → what parts there

const systems = new Systems({
  box: staves, data, notes: (bar) => editor.bars[bar],
  rows: (places, frame, bars) => {
    const ruled = rulers(places, frame, bars, (bar) => editor.bars[bar], (bar) => parting.get(bar));
    const place = places.find((one) => one.index === editor.bar);
    return { svg: (place ? cursorBox(place, editor.at, frame) : "") + ruled.svg, height: ruled.height };
  },
  onPress: (bar, at) => { const before = editor.bar; editor.go(bar, at); moved(before); staves.focus({ preventScroll: true }); },
});
systems.onDrawn = () => lit();
// A step asks for some of the bars: the others are folded, and open by themselves when one goes there.
function unfold() {
  if (!systems.range) return;
  find("folded").hidden = true;
  systems.build(null);
}
if (data.only) {
  systems.build(data.only);
  editor.go(data.only[0], 0);
  const [from, to] = data.only.map((index) => data.bars[index].number);
  say("folded-words", `Asked: ${from === to ? `bar ${from}` : `bars ${from} to ${to}`}. The other ${data.bars.length - (data.only[1] - data.only[0] + 1)} bars of these staves are folded.`);
  find("folded").hidden = false;
  find("unfold").addEventListener("click", () => { unfold(); moved(); staves.focus({ preventScroll: true }); });
}

// --- after every step

let shownBar = editor.bar;
function moved(before = shownBar) {
  if (systems.systemOf(editor.bar) < 0) unfold();
  const drawn = new Set([systems.systemOf(before), systems.systemOf(shownBar), systems.systemOf(editor.bar)]);
  for (const index of drawn) systems.draw(index, true);
  if (editor.bar !== shownBar || before !== editor.bar) inView();
  shownBar = editor.bar;
  words();
}
function changed(before) {
  moved(before);
  parting.delete(before);
  parting.delete(editor.bar);
  keeper.put(write(editor.bars, data.shift));
  empty();
}
function empty() { find("empty").hidden = editor.bars.some((bar) => bar.length); }
function inView() {
  const box = staves.children[systems.systemOf(editor.bar)]?.getBoundingClientRect();
  if (!box) return;
  const dock = find("dock").getBoundingClientRect();
  const floor = getComputedStyle(find("dock")).position === "sticky" ? dock.top : window.innerHeight;
  if (box.bottom > floor - 8) window.scrollBy({ top: box.bottom - floor + 16, behavior: "instant" });
  else if (box.top < 8) window.scrollBy({ top: box.top - 16, behavior: "instant" });
}

function words() {
  const bar = data.bars[editor.bar], entry = editor.entry;
  const at = editor.onEntry ? placeWords(editor.time(), bar.metre[1]) : editor.here.length ? "the end" : "empty";
  const name = entry ? (entry.pitch ? P.display(entry.pitch) : "Rest") : "";
  say("place", `${data.bars.at(-1).chorus > 1 ? `Chorus ${bar.chorus}, bar` : "Bar"} ${bar.number}, ${at}.`);
  say("note", name);
  const flags = entry ? [lengthWords(entry), entry.tie ? "tied on" : "", entry.ghost ? "ghost note" : "", entry.guess ? "a guess" : ""].filter(Boolean).join(", ") : `next: ${lengthWords({ length: editor.length, tuplet: 0 })}`;
  say("length", entry ? `, ${flags}` : flags);
  const how = state(editor.here, bar.length, bar.metre[1]);
  say("adds", how.state === "short" || how.state === "over" ? `${how.words[0].toUpperCase()}${how.words.slice(1)}; you may leave it so.` : "");
  guessWords();
  pad.show({ length: headOf({ length: editor.onEntry && entry ? entry.length : editor.length, tuplet: editor.onEntry && entry ? entry.tuplet : 0 }), entry, tuplet: editor.tuplet });
}

// --- commands: one table for keys, pad and buttons

function act(name, value) {
  const before = editor.bar;
  const made = COMMANDS[name]?.(value);
  if (made === undefined) return;
  if (made === "moved") { moved(before); return; }
  if (made) { changed(before); if (SOUNDS.has(name)) heard(); } else moved(before);
}
/** The next choice of a field of the deck, as by hand, and said. */
function next(name) {
  const field = find(name);
  field.selectedIndex = (field.selectedIndex + 1) % field.length;
  field.dispatchEvent(new Event("change"));
  if (!hearing.on) say("now", `${name === "loop" ? "Loop: " : ""}${field.selectedOptions[0].textContent}`);
}
const SOUNDS = new Set(["letter", "insert", "up", "down", "octaveUp", "octaveDown", "sharp", "flat", "natural"]);
function heard() {
  const pitch = editor.entry?.pitch ?? editor.noteBefore();
  if (pitch && find("touch").checked && !hearing.on) touch.sound(P.midi(pitch) - data.shift[1]);
}
const COMMANDS = {
  letter: (index) => editor.letter(index), insert: (index) => editor.letter(index, true), rest: () => editor.rest(),
  longer: () => editor.longer(1), shorter: () => editor.longer(-1), dot: () => editor.dot(), length: (ticks) => editor.setLength(ticks),
  up: () => editor.halfStep(1), down: () => editor.halfStep(-1), octaveUp: () => editor.octave(1), octaveDown: () => editor.octave(-1),
  sharp: () => editor.sign(1), flat: () => editor.sign(-1), natural: () => editor.sign(0), respell: () => editor.respell(),
  tie: () => editor.tie(), ghost: () => editor.flag("ghost"), guess: () => editor.flag("guess"), group: (count) => editor.group(count),
  back: () => editor.erase(true), erase: () => editor.erase(false), emptyBar: () => editor.emptyBar(), copyBar: () => editor.copyBar(),
  undo: () => editor.undo(), redo: () => editor.redo(),
  left: () => { editor.arrowLeft(); return "moved"; }, right: () => { editor.arrowRight(); return "moved"; },
  start: () => { editor.go(editor.bar, 0); return "moved"; }, end: () => { editor.go(editor.bar); return "moved"; },
  nextBar: () => { editor.go(editor.bar + 1, 0); return "moved"; }, barBefore: () => { editor.go(editor.bar - 1, 0); return "moved"; },
  systemDown: () => { editor.go(editor.bar + systems.perSystem, 0); return "moved"; }, systemUp: () => { editor.go(editor.bar - systems.perSystem, 0); return "moved"; },
  speed: () => { next("speed"); }, loop: () => { next("loop"); }, play: () => { toggle(); }, mine: () => { alone(); }, keys: () => { find("key-list").showModal(); },
};
Object.assign(COMMANDS, {
  guessRight: () => { if (!editor.settle()) return "moved"; editor.toGuess(); return true; },
  guessDrop: () => { if (!editor.drop()) return "moved"; editor.toGuess(); return true; },
  guessNext: () => { editor.toGuess(true); return "moved"; },
  guessAll: () => editor.takeAll(),
  guessHear: () => { editor.toGuess(); if (hearing.on) hearing.stop(); settings(); hearing.play(editor.bar, editor.bar, { again: false }); return "moved"; },
});
function guessWords() {
  const all = editor.guesses(), box = find("guesses");
  box.hidden = !all.length;
  if (!all.length) return;
  const here = editor.guess(), number = all.findIndex(([bar, place]) => bar === here[0] && place === here[1]) + 1;
  say("guess-words", `Guess ${number} of ${all.length}`);
}
const pad = new Pad(find("pad"), act);
listen(staves, act, { onMidi: (number) => { if (taps.on) { taps.note(number); return; } const before = editor.bar; if (editor.played(number)) { changed(before); if (find("touch").checked) touch.sound(number); } } , say: (words) => say("midi", words), button: find("midi-on") });
for (const button of root.querySelectorAll("[data-act]")) button.addEventListener("click", () => { act(button.dataset.act); staves.focus({ preventScroll: true }); });

// --- hearing

const hearing = new Hearing({
  audio: root.querySelector("[data-sound]"), data, bars: () => editor.bars,
  onBar: (bar) => { sounding = bar; lit(); if (bar !== null) say("now", `Chorus ${data.bars[bar].chorus}, bar ${data.bars[bar].number}`); },
  onStop: () => { const end = tapEnd; tapEnd = null; end?.(); for (const one of root.querySelectorAll("[data-play]")) one.textContent = one.dataset.rest; say("now", ""); },
  onFail: (words) => say("now", words),
});
let sounding = null;
function lit() {
  for (const bar of staves.querySelectorAll(".solo-bar.is-now")) bar.classList.remove("is-now");
  for (const bar of staves.querySelectorAll(".solo-bar.is-looped")) bar.classList.remove("is-looped");
  if (hearing?.on && hearing.span) for (let bar = hearing.span.first; bar <= hearing.span.last; bar += 1) systems.svgBar(bar)?.classList.add("is-looped");
  if (sounding !== null) systems.svgBar(sounding)?.classList.add("is-now");
}
function span() {
  const wide = find("loop").value, here = editor.bar;
  if (wide === "form") {
    const chorus = data.bars[here].chorus;
    const inside = data.bars.map((bar, index) => [bar.chorus, index]).filter(([one]) => one === chorus).map(([, index]) => index);
    return [inside[0], inside.at(-1)];
  }
  const count = Number(wide), opens = data.bars.findIndex((bar) => bar.chorus === data.bars[here].chorus);
  const first = opens + Math.floor((here - opens) / count) * count;
  return [first, Math.min(data.bars.length - 1, first + count - 1)];
}
function settings() {
  hearing.speed = Number(find("speed").value);
  hearing.countIn = find("count-in").checked;
  hearing.swing = find("swing").checked;
  hearing.mine = find("mine")?.value ?? "silent";
}
function toggle() {
  if (hearing.on) { hearing.stop(); return; }
  settings();
  for (const one of root.querySelectorAll("[data-play]")) one.textContent = "Stop";
  hearing.play(...span());
  lit();
}
function alone() {
  if (hearing.on) { hearing.stop(); return; }
  settings();
  for (const one of root.querySelectorAll("[data-play]")) one.textContent = "Stop";
  hearing.play(editor.bar, data.bars.length - 1, { alone: true, again: false });
}
for (const one of root.querySelectorAll("[data-play]")) one.addEventListener("click", () => { toggle(); });
find("hear-mine").addEventListener("click", alone);
for (const field of root.querySelectorAll("[data-deck] select, [data-deck] input")) field.addEventListener("change", () => { settings(); if (hearing.on) { hearing.stop(); toggle(); } });

find("fold").addEventListener("click", () => { const open = find("more").classList.toggle("is-open"); find("fold").setAttribute("aria-expanded", String(open)); });

// --- tapped: the recording plays, every note is a press; what comes back is a suggestion

const taps = new Taps({ audio: root.querySelector("[data-sound]"), button: find("tap"), pad: find("tap-pad"), say: (words) => say("tap-said", words), play: (end) => tapRound(end), stop: () => hearing.stop() });
function tapRound(end) {
  if (hearing.on) hearing.stop();
  settings();
  hearing.mine = "silent";
  tapEnd = () => end(tapped);
  hearing.play(...span(), { again: false });
  lit();
}
let tapEnd = null;
async function tapped(onsets) {
  settings();
  if (!onsets.length) { say("tap-said", "Nothing was tapped."); return; }
  lastOnsets.push(...onsets);
  say("tap-said", "Placing");
  const found = await post(root.dataset.placedUrl, { onsets: JSON.stringify(onsets), swing: hearing.swing ? "on" : "off" });
  if (!found?.notes) { say("tap-said", found?.problem ?? "Not placed: no connection. Tap again when there is one."); return; }
  const before = editor.bar, left = editor.suggest(read(found.notes, data.bars.length, data.shift), found.filled);
  const kept = left ? `${left} bar${left > 1 ? "s" : ""} with notes of yours ${left > 1 ? "were" : "was"} left as ${left > 1 ? "they are" : "it is"}.` : "";
  const placed = left < found.filled.length ? "Placed as guesses: hear each, write its note, or take it." : "Nothing was placed: empty these bars first, or loop others.";
  say("tap-said", [placed, ...found.remarks, kept].filter(Boolean).join(" "));
  changed(before);
  systems.drawAll();
  staves.focus({ preventScroll: true });
}

// --- where what is written and the recording part

const lastOnsets = [];
find("compare")?.addEventListener("click", async () => {
  say("tap-said", "Comparing");
  const [first, last] = span();
  const found = await parts({ audio: root.querySelector("[data-sound]"), times: data.times, first, last, taps: lastOnsets, written: written(first, last) });
  parting = found.bars;
  say("tap-said", found.words);
  systems.drawAll();
});
/** Seconds of the recording where the written notes of these bars begin. */
function written(first, last) {
  settings();
  return asHeard(editor.bars, hearing.starts, data.bars.map((bar) => bar.length), data.shift).filter((note) => note.bar >= first && note.bar <= last && !note.ghost).map((note) => {
    const { length, metre } = data.bars[note.bar], seconds = data.times[note.bar + 1] - data.times[note.bar], at = note.onset - hearing.starts[note.bar];
    return { bar: note.bar, tick: at, second: data.times[note.bar] + swung(at / QUARTER, hearing.swing && metre[1] === 4) * QUARTER * (seconds / length) };
  });
}

// --- done, and two windows

find("done").addEventListener("click", async () => {
  say("saved", "Keeping");
  if (!(await keeper.send())) { say("saved", "Not kept: no connection. Everything is on this device; press Done again."); find("saved").classList.add("saved--not"); return; }
  const kept = await post(root.dataset.keepUrl, { notes: JSON.stringify(write(editor.bars, data.shift)) });
  if (kept?.url) location.assign(kept.url);
  else { say("saved", `Not kept: ${kept?.problem ?? "no connection"}`); find("saved").classList.add("saved--not"); }
});
async function post(url, values) {
  try {
    const answer = await fetch(url, { method: "POST", body: new URLSearchParams(values), headers: { "X-CSRFToken": token } });
    return await answer.json();
  } catch { return null; }
}

function conflict(found, mine) {
  const box = find("other");
  box.hidden = false;
  say("other-at", found.at);
  find("keep-mine").onclick = async () => { keeper.serial = found.serial; keeper.waiting = write(editor.bars, data.shift); if (await keeper.send({ over: true })) box.hidden = true; };
  find("take-other").onclick = async () => {
    const kept = await post(root.dataset.keepUrl, { notes: JSON.stringify(mine), over: "on" });
    if (!kept?.number) return;
    editor.step(() => { editor.bars = read(found.notes, data.bars.length, data.shift); editor.go(0); });
    keeper.take(found.serial, found.notes);
    box.hidden = true;
    systems.drawAll();
    moved();
  };
  box.querySelector("button").focus();
}

const old = keeper.isOld();
if (old) location.reload();
const left = old ? null : keeper.left();
if (left?.notes) {
  editor.bars = read(left.notes, data.bars.length, data.shift);
  if (sameNotes(left.notes, data.notes)) { keeper.before = left.client; keeper.forget(); } // that window may still be sending them
  else if (left.serial === data.serial || left.client === data.client) { keeper.before = left.client; keeper.put(left.notes); }
  else { keeper.waiting = left.notes; keeper.device = true; conflict({ serial: data.serial, at: root.dataset.savedAt, notes: data.notes }, left.notes); }
  systems.drawAll();
}
editor.go(Math.max(0, editor.bars.findIndex((bar, i) => !bar.length && editor.bars.slice(i).every((later) => !later.length))), 0);
shownBar = editor.bar;
words();
empty();
systems.drawAll();
systems.draw(systems.systemOf(editor.bar));
if (!old) root.dataset.ready = "1";
if (editor.bar) inView();
if (!window.matchMedia("(pointer: coarse)").matches) staves.focus({ preventScroll: true });
window.addEventListener("pagehide", () => hearing.stop(false));
for (const field of document.querySelectorAll("[data-autosend]")) { field.form.querySelector("button").hidden = true; field.addEventListener("change", async () => { await keeper.send(); field.form.requestSubmit(); }); }
