// Keys of the review sheet: next and previous sheet, next missed bar, comment, other mark, accept, return, undo.

import { letters } from "./keys.js";
import "./key-list.js";

const sheet = document.querySelector("[data-sheet]");
const bars = [...document.querySelectorAll(".sheet__bar")];
const missed = bars.filter((bar) => !bar.classList.contains("sheet__bar--full"));
function nextMissed() {
  const at = missed.indexOf(document.activeElement?.closest(".sheet__bar"));
  const bar = missed[(at + 1) % missed.length];
  if (bar) { bar.focus(); bar.scrollIntoView({ block: "center" }); }
}

function comment() {
  const bar = document.activeElement?.closest(".sheet__bar");
  const summary = bar?.querySelector("[data-comment]");
  if (!summary) { document.getElementById("general").focus(); return; }
  summary.parentElement.open = true;
  summary.parentElement.querySelector("textarea").focus();
}

// Another mark for the answer one is at: that of the bar, the missed one first.
function otherMark() {
  const bar = document.activeElement?.closest(".sheet__bar") ?? missed[0] ?? bars[0];
  const row = document.activeElement?.closest(".answer-row") ?? bar?.querySelector(".answer-row--missed") ?? bar?.querySelector(".answer-row");
  const form = row?.querySelector("[data-other-mark]");
  if (!form) return;
  form.open = true;
  const fold = form.closest(".answer-row__fold");
  if (fold) fold.open = true;
  form.querySelector("[name=points]").focus();
  form.querySelector("[name=points]").select();
}

document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey) || event.target.tagName !== "TEXTAREA") return;
  event.preventDefault();
  event.target.form?.requestSubmit();
});

letters({
  j: () => { if (sheet.dataset.after) location.href = sheet.dataset.after; },
  k: () => { if (sheet.dataset.before) location.href = sheet.dataset.before; },
  n: nextMissed,
  c: comment,
  m: otherMark,
  a: () => document.querySelector("[data-accept]")?.click(),
  r: () => document.querySelector("[data-return]")?.click(),
  u: () => document.querySelector("[data-undo]")?.click(),
});

// Until here a key does nothing; a test, or a hand that is faster than the page, can tell.
sheet.dataset.ready = "";
