// The chart editor: the preview follows the typing, every keystroke is kept on this device, the draft on the server.

import { kept as place } from "./device/kept.js";
import { CONFLICT, FULL, OFFLINE, posted, SIGNED_OUT } from "./device/posted.js";
import { MORE, Turns } from "./device/turns.js";

const form = document.querySelector("[data-editor]");
const box = form.querySelector("#chart-text");
const preview = document.getElementById("preview");
const saved = document.getElementById("saved");
const discard = document.querySelector("[data-discard]");
const device = place(form.dataset.keep);
const PAUSE = 350; // milliseconds of quiet before the text is sent
const TOO_LONG = 413;
const TYPING = "…";
const WORDS = { [OFFLINE]: "no connection", [SIGNED_OUT]: "you are signed out", [FULL]: "the site’s disk is full" };

let serial = Number(form.dataset.serial);
let sent = box.value; // what the server holds, as far as this window knows
let conflict = false;
const turns = new Turns(send);

function say(words, bad = false) {
  saved.textContent = words;
  saved.classList.toggle("saved--not", bad);
}

const keepHere = () => device.write({ text: box.value, serial, sent });

async function send() {
  const text = box.value;
  if (conflict) return CONFLICT;
  if (text === sent) {
    if (saved.textContent === TYPING) say("Saved");
    return "";
  }
  const body = new FormData();
  body.set("text", text);
  body.set("serial", String(serial));
  body.set("based_on", form.elements.based_on.value);
  const { why, answer } = await posted(form.dataset.draftUrl, body, { token: form.elements.csrfmiddlewaretoken.value });
  const said = answer ? await answer.text().catch(() => null) : null;
  if (why === CONFLICT && said) { askWhich(said, answer); return CONFLICT; }
  if (answer?.status === TOO_LONG) { say(said, true); return why; }
  if (why || said === null) return offline(WORDS[why] ?? "the server did not answer properly");
  serial = Number(answer.headers.get("X-Draft-Serial"));
  sent = text;
  draw(said);
  if (discard) discard.hidden = false;
  if (box.value !== text) return MORE;
  say(`Saved ${answer.headers.get("X-Draft-Time")}`);
  keepHere();
  return "";
}

function offline(why) {
  say(`Not saved: ${why}, ${keepHere() ? "kept on this device" : "do not close this page"}`, true);
  return OFFLINE; // it is tried again, whatever it was
}

function draw(html) {
  const scrolled = preview.scrollTop;
  preview.innerHTML = html;
  preview.scrollTop = scrolled;
}

function askWhich(html, answer) {
  conflict = true;
  say("Not saved: another window changed this chart", true);
  draw(html);
  const theirs = preview.querySelector("[data-theirs]").dataset.theirs;
  preview.querySelector("[data-keep-mine]").addEventListener("click", () => choose(box.value));
  preview.querySelector("[data-take-theirs]").addEventListener("click", () => {
    offer(box.value, "The text that stood here is kept until you leave this page.");
    choose(theirs);
  });
  function choose(text) {
    conflict = false;
    serial = Number(answer.headers.get("X-Draft-Serial"));
    box.value = text;
    box.focus();
    turns.now();
  }
}

// The server counts characters, the text box units of UTF-16: a sign such as 𝄋 is one there and two here.
function units(characters) {
  let at = 0;
  for (let left = characters; left > 0 && at < box.value.length; left -= 1) at += box.value.codePointAt(at) > 0xffff ? 2 : 1;
  return at;
}

function goTo(from, to) {
  const start = units(from);
  const end = units(to);
  box.focus();
  box.setSelectionRange(start, Math.max(end, start));
  const line = box.value.slice(0, start).split("\n").length - 1;
  const height = parseFloat(getComputedStyle(box).lineHeight);
  box.scrollTop = Math.max(0, (line - 3) * height);
}

// What is offered goes in as if it were typed, so that the browser's own undo takes it out again.
function mend(button) {
  goTo(Number(button.dataset.start), Number(button.dataset.end));
  const put = button.dataset.put;
  const typed = put ? document.execCommand("insertText", false, put) : document.execCommand("delete");
  if (typed) return;
  box.setRangeText(put, box.selectionStart, box.selectionEnd, "end");
  box.dispatchEvent(new Event("input"));
}

function nextProblem() {
  const all = [...preview.querySelectorAll(".problems__go")];
  const next = all.find((button) => units(Number(button.dataset.start)) > box.selectionStart) ?? all[0];
  if (next) goTo(Number(next.dataset.start), Number(next.dataset.end));
}

box.addEventListener("input", () => {
  say(TYPING);
  keepHere();
  turns.soon(PAUSE);
});

preview.addEventListener("click", (event) => {
  const button = event.target.closest(".problems__go");
  if (button) goTo(Number(button.dataset.start), Number(button.dataset.end));
  const offered = event.target.closest(".problems__mend");
  if (offered && box.value === sent) mend(offered); // places are those of the text the server read
});

box.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey)) return;
  if (event.key === "Enter") form.requestSubmit();
  else if (event.key === ".") nextProblem();
  else return;
  event.preventDefault();
});

form.addEventListener("submit", () => turns.stop());
discard?.addEventListener("submit", () => device.drop());

// What this device kept and the server has not: put it back. Text that the server has too is forgotten.
const mine = device.read();
if (mine && mine.text !== box.value) {
  if (mine.sent === box.value || mine.serial === serial) {
    box.value = mine.text;
    say("Put back what this device had kept", false);
    turns.now();
  } else if (mine.text !== mine.sent) {
    offer(mine.text, "This device holds a text that was never saved.");
  }
}

function offer(text, said) {
  const note = document.createElement("div");
  note.className = "notice notice--info row";
  const words = document.createElement("p");
  words.textContent = said;
  const use = document.createElement("button");
  use.type = "button";
  use.className = "button button--second";
  use.textContent = "Put it back";
  use.addEventListener("click", () => {
    box.value = text;
    note.remove();
    turns.now();
  });
  note.append(words, use);
  form.before(note);
}

// Signs that are hard to reach on a phone's keyboard go in at the cursor.
for (const button of document.querySelectorAll("[data-insert]")) {
  button.addEventListener("click", () => {
    box.setRangeText(button.dataset.insert, box.selectionStart, box.selectionEnd, "end");
    box.focus();
    box.dispatchEvent(new Event("input"));
  });
}
