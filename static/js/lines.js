// Pages of lines: the player of the sheet, and on the search page keys to play what is looked for.
import { attachPlayer } from "./player.js";
import { voices } from "./synth.js";

// On a phone the same bars are engraved two to a line, not shrunk: for the page, and for a place that arrives.
const narrow = window.matchMedia("(max-width: 44rem)");
if (narrow.matches) for (const link of document.querySelectorAll('[hx-get*="/places/"]')) link.setAttribute("hx-get", `${link.getAttribute("hx-get")}&per_system=2`);
async function fit(place) {
  if (!narrow.matches || !place || place.dataset.perSystem === "2") return;
  const address = new URL(location.href);
  address.searchParams.set("per_system", "2");
  try {
    const page = new DOMParser().parseFromString(await (await fetch(address)).text(), "text/html"), made = page.querySelector("[data-line-sheet] .engraved");
    if (made) { place.querySelector(".engraved").replaceWith(made); place.dataset.perSystem = "2"; }
  } catch { /* without a connection it stays as it is */ }
}

const sheet = document.querySelector("[data-line-sheet]");
const stop = sheet ? attachPlayer(sheet) : () => {};
window.addEventListener("pagehide", () => stop());
fit(sheet);

const NAMES = ["C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B"];
const form = document.querySelector("[data-line-search]");
if (form) search(form);

function search(box) {
  const find = (name) => box.querySelector(`[data-${name}]`);
  const field = find("played"), piano = find("piano"), said = find("piano-said");
  let context = null;
  piano.hidden = false;
  find("piano-tools").hidden = false;
  const notes = () => field.value.split(/[\s,]+/).filter(Boolean);
  function played(midi) {
    field.value = [...notes(), midi].slice(-40).join(" ");
    said.textContent = notes().map((note) => NAMES[note % 12] ?? note).join(", ");
    context ??= new AudioContext();
    context.resume();
    voices.line(context, context.destination, midi, context.currentTime + 0.01, 0.4);
  }
  for (const key of piano.querySelectorAll("[data-midi]")) {
    const midi = Number(key.dataset.midi);
    key.setAttribute("aria-label", `${NAMES[midi % 12]} ${Math.floor(midi / 12) - 1}`);
    key.tabIndex = midi === 60 ? 0 : -1;
    key.addEventListener("click", () => played(midi));
    key.addEventListener("keydown", (event) => {
      const to = { ArrowRight: key.nextElementSibling, ArrowLeft: key.previousElementSibling }[event.key];
      if (!to) return;
      event.preventDefault();
      key.tabIndex = -1;
      to.tabIndex = 0;
      to.focus();
    });
  }
  find("piano-clear").addEventListener("click", () => { field.value = ""; said.textContent = ""; });
  const button = find("piano-midi");
  if (navigator.requestMIDIAccess) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      try {
        const access = await navigator.requestMIDIAccess();
        for (const input of access.inputs.values()) input.onmidimessage = ({ data: [kind, note, force] }) => { if ((kind & 0xf0) === 0x90 && force) played(note); };
        said.textContent = access.inputs.size ? "Play; every note is added." : "No MIDI keyboard is connected.";
      } catch { said.textContent = "The browser gave no MIDI keyboard."; }
    });
  }
}
