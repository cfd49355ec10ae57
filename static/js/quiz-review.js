// The review sheet: arrows go bar by bar and sheet by sheet, Ctrl+Enter says that it is reviewed; the rest stands in a menu.

import "./key-list.js";

const sheet = document.querySelector("[data-sheet]");
const bars = [...document.querySelectorAll(".sheet__bar")];
const missed = bars.filter((bar) => !bar.classList.contains("sheet__bar--full"));
let last = null; // the place one was at before a button of the menu took the focus
document.addEventListener("focusin", (event) => { if (event.target.closest(".sheet__bar")) last = event.target; });
const at = (what) => (document.activeElement?.closest(what) ?? last?.closest(what));

function nextMissed() {
  const bar = missed[(missed.indexOf(at(".sheet__bar")) + 1) % missed.length];
  if (bar) { bar.focus(); bar.scrollIntoView({ block: "center" }); }
}

function comment() {
  const summary = at(".sheet__bar")?.querySelector("[data-comment]");
  if (!summary) { document.getElementById("general").focus(); return; }
  summary.parentElement.open = true;
  summary.parentElement.querySelector("textarea").focus();
}

// Another mark for the answer one is at: that of the bar, the missed one first.
function otherMark() {
  const bar = at(".sheet__bar") ?? missed[0] ?? bars[0];
  const row = at(".answer-row") ?? bar?.querySelector(".answer-row--missed") ?? bar?.querySelector(".answer-row");
  const form = row?.querySelector("[data-other-mark]");
  if (!form) return;
  form.open = true;
  const fold = form.closest(".answer-row__fold");
  if (fold) fold.open = true;
  form.querySelector("[name=points]").focus();
  form.querySelector("[name=points]").select();
}

// A comment on the whole that was typed and not added goes along with what is said of the sheet.
const general = document.getElementById("general");
document.querySelector("form.outcome")?.addEventListener("submit", (event) => {
  const along = general?.form.querySelector("[name=act]"), act = event.submitter?.value;
  if (!general?.value.trim() || !along || !["accept", "return"].includes(act)) return;
  event.preventDefault();
  along.value = act;
  general.form.requestSubmit(along);
});

const sheets = { ArrowRight: () => sheet.dataset.after, ArrowLeft: () => sheet.dataset.before };

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest?.("input:not([type=checkbox], [type=radio]), textarea, select, audio, dialog");
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
    event.preventDefault();
    if (event.target.tagName === "TEXTAREA") event.target.form?.requestSubmit();
    else if (!typing) document.querySelector("[data-accept]")?.click();
    return;
  }
  if (typing || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    const place = bars.indexOf(at(".sheet__bar"));
    const bar = bars[place < 0 && event.key === "ArrowDown" ? 0 : place + (event.key === "ArrowDown" ? 1 : -1)];
    if (bar) { event.preventDefault(); bar.focus(); bar.scrollIntoView({ block: "center" }); }
  }
  const to = sheets[event.key]?.();
  if (to) { event.preventDefault(); location.href = to; }
});

for (const [name, act] of Object.entries({ missed: nextMissed, comment, mark: otherMark })) {
  for (const button of document.querySelectorAll(`[data-do="${name}"]`)) {
    button.hidden = false;
    button.addEventListener("click", act);
  }
}

// Until here a key does nothing; a test, or a hand that is faster than the page, can tell.
sheet.dataset.ready = "";
