// Two versions side by side: each is heard alone, over bass and chords, one at a time.
import { events } from "./schedule.js";
import { prepare } from "./sampler.js";
import { voices } from "./synth.js";

let playing = null;
for (const button of document.querySelectorAll("[data-hear-side]")) {
  const sound = JSON.parse(button.closest("[data-line-sheet]").querySelector('script[type="application/json"]').textContent);
  button.addEventListener("click", () => {
    const mine = playing?.button === button;
    playing?.stop();
    playing = mine ? null : play(sound, button);
  });
}
window.addEventListener("pagehide", () => playing?.stop());

function play(sound, button) {
  const context = new AudioContext(), second = 60 / sound.tempo, { list, length } = events(sound, 0, sound.bars.length - 1, true);
  const out = context.createGain();
  out.gain.value = 0.8;
  out.connect(context.destination);
  let begin = null, next = 0;
  prepare(context).then(() => { begin = context.currentTime + 0.15; });
  const stop = () => { clearInterval(timer); context.close(); button.textContent = button.dataset.rest; if (playing?.button === button) playing = null; };
  const timer = setInterval(() => {
    if (begin === null) return;
    const until = context.currentTime + 0.25;
    for (; next < list.length && begin + list[next].time * second < until; next += 1) {
      const { part, pitch, time, length: lasts } = /** @type {any} */ (list[next]);
      if (voices[part] && part !== "click") voices[part](context, out, pitch, begin + time * second, lasts * second);
    }
    if (context.currentTime > begin + length * second) stop();
  }, 60);
  button.textContent = "Stop";
  return { button, stop };
}
