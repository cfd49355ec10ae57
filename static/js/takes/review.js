// An ensemble's takes one after another, without leaving the page: arrows go from take to take, Ctrl+Enter says reviewed.
import { keepUnsent } from "./comment.js";
import { mount } from "./take.js";

const TYPING = "input:not([type=checkbox], [type=radio]), textarea, select, audio, dialog";
let busy = false;

const nav = () => document.querySelector("[data-take-sheet]");

async function show(answer) {
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const main = page.getElementById("main");
  if (!answer.ok || !main?.querySelector("[data-take-sheet]")) { location.href = answer.url; return; }
  window.dispatchEvent(new Event("take:leave"));
  for (const id of ["main", "messages"]) document.getElementById(id).replaceChildren(...page.getElementById(id).childNodes);
  document.title = page.title;
  if (answer.url !== location.href) history.pushState({ takes: true }, "", answer.url);
  mount();
  window.scrollTo(0, 0);
  document.querySelector("h1")?.focus({ preventScroll: true });
}

// The sentence on the whole take that was typed and not added: it goes along as well. False when the server refuses it.
async function keepSentence() {
  const text = document.querySelector("#general");
  if (!text?.value.trim()) return true;
  const answer = await fetch(text.form.action, { method: "POST", body: new FormData(text.form) });
  const kept = answer.ok && new URL(answer.url).pathname.startsWith("/work/"); // and not the page of signing in
  if (kept) text.value = "";
  else text.focus();
  return kept;
}

async function go(address, options = {}) {
  if (!address || busy) return;
  busy = true;
  try {
    if (!(await keepUnsent()) || !(await keepSentence())) return;
    await show(await fetch(address, options));
  } catch {
    const problem = document.querySelector("[data-problem]") ?? document.getElementById("messages");
    problem.hidden = false;
    problem.textContent = "No connection: this take stays here, and so does what you typed. Try again when there is one.";
  } finally {
    busy = false;
  }
}

document.addEventListener("keydown", (event) => {
  if (!nav()) return;
  const typing = event.target.closest?.(TYPING);
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && !event.defaultPrevented) {
    if (event.target.tagName === "TEXTAREA") event.target.form?.requestSubmit();
    else if (!typing) document.querySelector("[data-accept]")?.click();
    event.preventDefault();
    return;
  }
  if (typing || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey || event.target.matches?.("input")) return;
  const to = { ArrowRight: nav().dataset.after, ArrowLeft: nav().dataset.before }[event.key];
  if (to) { event.preventDefault(); go(to); }
});

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-next]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  go(link.href);
});

document.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-outcome]")) return;
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.target);
  const body = new FormData(form, event.submitter);
  go(form.action, { method: "POST", body });
});

window.addEventListener("popstate", () => location.reload());
