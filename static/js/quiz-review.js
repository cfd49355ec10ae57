// Keys of the review sheet: next and previous sheet, next missed bar, comment, accept.

import { letters } from "./keys.js";

const sheet = document.querySelector("[data-sheet]");
const bars = [...document.querySelectorAll(".sheet__bar")];
const missed = bars.filter((bar) => !bar.classList.contains("sheet__bar--full"));
const options = document.getElementById("only-missed");

if (options && bars.length) {
  options.hidden = false;
  options.querySelector("[data-only-missed]").addEventListener("change", (event) => {
    for (const bar of bars) bar.hidden = event.target.checked && bar.classList.contains("sheet__bar--full");
  });
}

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

letters({
  j: () => { if (sheet.dataset.after) location.href = sheet.dataset.after; },
  k: () => { if (sheet.dataset.before) location.href = sheet.dataset.before; },
  n: nextMissed,
  c: comment,
  a: () => document.querySelector("[data-accept]")?.click(),
});

// Until here a key does nothing; a test, or a hand that is faster than the page, can tell.
sheet.dataset.ready = "";
