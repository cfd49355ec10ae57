// The reason of a mark opens at its chord: at the height of its bar beside the chart, as a sheet at the foot of a phone.
// Arrows go chord by chord, Home and End to the ends of the system, Esc closes and returns to the chord.

import { heardHere } from "./hear-answers.js";

const chart = document.querySelector("[data-on-chart]");
const margin = chart.querySelector(".on-chart__margin");
const chords = [...chart.querySelectorAll("[data-said]")];
const reached = () => chords.filter((chord) => chord.checkVisibility()); // not those of a folded section
const beside = window.matchMedia("(min-width: 60.01rem)");

const opened = () => chart.querySelector(".why:target, .why--open");
const chordOf = (why) => document.getElementById(why.id.replace("why-", "said-"));

function place() {
  for (const chord of chords) chord.classList.remove("said--open");
  for (const other of margin.querySelectorAll(".why")) other.style.marginTop = "";
  const why = opened();
  if (!why) return;
  const chord = chordOf(why);
  chord?.classList.add("said--open");
  if (beside.matches && chord) {
    const top = chord.closest(".bar").getBoundingClientRect().top - margin.getBoundingClientRect().top;
    why.style.marginTop = `${Math.max(0, top)}px`;
    why.scrollIntoView({ block: "nearest" });
  } else chord?.scrollIntoView({ block: "start" });
  why.focus({ preventScroll: true });
}

function close(why) {
  chart.querySelector("[data-sound]")?.pause();
  why.classList.remove("why--open");
  history.replaceState(null, "", location.pathname + location.search);
  const chord = chordOf(why);
  location.hash = chord ? chord.id : "";
  chord?.focus();
  place();
}

function beyond(chord, key) {
  const near = reached(), at = near.indexOf(chord), box = chord.getBoundingClientRect();
  if (key === "ArrowRight") return near[at + 1];
  if (key === "ArrowLeft") return near[at - 1];
  const system = (one) => Math.round(one.closest(".bar").getBoundingClientRect().top);
  const mine = near.filter((one) => system(one) === system(chord));
  if (key === "Home") return mine[0];
  if (key === "End") return mine.at(-1);
  const down = key === "ArrowDown";
  const rows = [...new Set(near.map(system))].sort((a, b) => a - b);
  const row = rows[rows.indexOf(system(chord)) + (down ? 1 : -1)];
  const there = near.filter((one) => system(one) === row);
  return there.sort((a, b) => Math.abs(a.getBoundingClientRect().left - box.left) - Math.abs(b.getBoundingClientRect().left - box.left))[0];
}

const KEYS = ["ArrowRight", "ArrowLeft", "ArrowDown", "ArrowUp", "Home", "End"];
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && opened() && !document.querySelector("dialog[open]")) { event.preventDefault(); close(opened()); return; }
  const chord = event.target.closest?.("[data-said]");
  if (!chord || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey || !KEYS.includes(event.key)) return;
  event.preventDefault();
  event.stopPropagation(); // the sheet's own arrows lead to other sheets
  beyond(chord, event.key)?.focus();
}, true);
chart.addEventListener("click", (event) => {
  const link = event.target.closest("[data-close]");
  if (link) { event.preventDefault(); close(link.closest(".why")); }
});
window.addEventListener("hashchange", () => {
  chart.querySelector("[data-sound]")?.pause();
  if (location.hash.startsWith("#why-")) for (const why of chart.querySelectorAll(".why--open")) why.classList.remove("why--open");
  requestAnimationFrame(place); // after the browser's own scrolling
});
window.addEventListener("resize", place);
window.addEventListener("load", () => { if (opened()) requestAnimationFrame(place); });
// --- long charts: a section in which everything is right shows its chords alone

function fold(section) {
  const answers = [...section.querySelectorAll("[data-said]")];
  if (!answers.length || section.querySelector(".peg") || answers.some((one) => !one.classList.contains("said--right") || one.querySelector(".said__asks"))) return;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button--quiet all-right no-print";
  const open = (on) => {
    section.classList.toggle("chart__section--folded", !on);
    button.setAttribute("aria-expanded", String(on));
    button.textContent = on ? "All right: chords alone" : "All right: show the answers";
  };
  button.addEventListener("click", () => open(button.getAttribute("aria-expanded") !== "true"));
  section.append(button);
  open(answers.some((one) => location.hash === `#${one.id}` || location.hash === `#${one.id.replace("said-", "why-")}`));
}
for (const section of chart.querySelectorAll(".chart--long .chart__section")) fold(section);

// --- the bar in the recording

heardHere(chart, () => opened()?.querySelector("[data-hear]"));

// --- a comment by thumb: the foot of the reason stands above the device's own keyboard

function lift() {
  const seen = window.visualViewport;
  const covered = seen.scale > 1.01 ? 0 : Math.max(0, window.innerHeight - seen.height - seen.offsetTop);
  margin.style.setProperty("--covered", `${covered > 60 && !beside.matches ? covered : 0}px`);
}
window.visualViewport?.addEventListener("resize", lift);

// Whoever opens the remark goes on by writing it.
for (const remark of margin.querySelectorAll("[data-comment-here]")) {
  remark.addEventListener("toggle", () => { if (remark.open) remark.querySelector("textarea").focus(); });
}
