// The page on which a solo is read.

import { Hearing } from "./hear.js";
import { read } from "./score.js";
import { Systems } from "./systems.js";

const root = document.querySelector("[data-solo-read]");
const data = JSON.parse(document.getElementById("solo-data").textContent);
const staves = root.querySelector("[data-staves]");
const bars = read(data.notes, data.bars.length, data.shift);
if (staves) {
  const systems = new Systems({ box: staves, data, notes: (bar) => bars[bar], words: (group) => `Bars ${group[0].number} to ${group.at(-1).number} of chorus ${group[0].chorus}` });
  const button = root.querySelector("[data-play]");
  const hearing = new Hearing({
    audio: null, data, bars: () => bars,
    onBar: (bar) => { for (const old of staves.querySelectorAll(".is-now")) old.classList.remove("is-now"); if (bar !== null) systems.svgBar(bar)?.classList.add("is-now"); },
    onStop: () => { button.textContent = button.dataset.rest; }, onFail: () => { button.textContent = "Not here"; },
  });
  button.addEventListener("click", () => { if (hearing.on) { hearing.stop(); return; } button.textContent = "Stop"; hearing.play(0, data.bars.length - 1, { alone: true, again: false }); });
  root.dataset.ready = "1";
}
for (const field of document.querySelectorAll("[data-autosend]")) { field.form.querySelector("button").hidden = true; field.addEventListener("change", () => field.form.requestSubmit()); }
