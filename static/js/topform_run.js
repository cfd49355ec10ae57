// Keep the top of the form: bass, shells and a click with silences in them; taps are counted in beats.
import { openDesk } from "./desk.js";
import { prepare } from "./sampler.js";
import { voices } from "./synth.js";

const box = document.querySelector("[data-top-of-form]");
if (box) attach(box, JSON.parse(document.getElementById("top-data").textContent));

function attach(root, plan) {
  const find = (name) => root.querySelector(`[data-${name}]`);
  const startButton = find("start"), stopButton = find("stop"), tapButton = find("tap"), said = find("said");
  const perBeat = 60 / plan.tempo;
  let sound = null, begin = 0, taps = [], timer = null;

  const silent = (beat) => plan.silences.some(([from, to]) => beat >= from - 0.001 && beat < to - 0.001);
  const at = (beat) => begin + beat * perBeat;

  function schedule() {
    const { gains } = openDesk(sound, ["bass", "shells", "click"]);
    for (let beat = -plan.metre; beat < 0; beat += 1) voices.click(sound, gains.click, beat === -plan.metre, at(beat));
    for (let beat = 0; beat < plan.beats; beat += 1) if (beat % 2 === 1 && !silent(beat)) voices.click(sound, gains.click, false, at(beat));
    for (const [beat, long, bass, shells] of plan.chords) {
      for (let step = 0; step < long; step += 1) if (!silent(beat + step)) voices.bass(sound, gains.bass, step % 2 ? bass + 7 > 47 ? bass - 5 : bass + 7 : bass, at(beat + step), perBeat * 0.9);
      if (!silent(beat)) for (const note of shells) voices.shells(sound, gains.shells, note, at(beat), perBeat * Math.min(long, 1.6));
    }
  }

  async function start() {
    stop();
    const mine = (sound = new AudioContext());
    await sound.resume();
    await prepare(sound);
    if (sound !== mine) return;
    begin = sound.currentTime + 0.15 + plan.metre * perBeat;
    taps = [];
    schedule();
    startButton.disabled = true;
    stopButton.disabled = tapButton.disabled = false;
    find("result").hidden = true;
    said.textContent = "Count-in";
    tapButton.focus();
    timer = setInterval(watch, 100);
  }
  function now() { return (sound.currentTime - begin - (sound.outputLatency || 0)) / perBeat; }
  function watch() {
    const beat = now();
    const words = beat < 0 ? "Count-in" : silent(beat) ? "The band is silent: keep counting" : "Playing";
    if (said.textContent !== words && beat < plan.beats) said.textContent = words;
    if (beat > plan.beats + Math.max(2, plan.metre / 2)) finish();
  }
  function tap() {
    if (!sound || timer === null) return;
    const beat = now();
    if (beat > -1) taps.push(Math.round(beat * 1000) / 1000);
    tapButton.toggleAttribute("data-tapped", true);
    setTimeout(() => tapButton.toggleAttribute("data-tapped", false), 120);
  }
  function stop() {
    clearInterval(timer);
    timer = null;
    sound?.close();
    sound = null;
    startButton.disabled = false;
    stopButton.disabled = tapButton.disabled = true;
  }
  async function finish() {
    stop();
    said.textContent = "Scoring";
    const body = new URLSearchParams({ taps: JSON.stringify(taps), choruses: root.dataset.choruses, tempo: String(plan.tempo), silence: root.dataset.silence });
    try {
      const answer = await fetch(root.dataset.url, { method: "POST", body, headers: { "X-CSRFToken": find("token").elements.csrfmiddlewaretoken.value } });
      const result = await answer.json();
      if (answer.ok) show(result); else said.textContent = result.problem;
    } catch { said.textContent = "No connection: this run could not be scored. Play it again when you are back."; }
  }
  function show(result) {
    said.textContent = `${result.score}%, on average ${result.off} beats off${result.stray ? `, ${result.stray} taps too many` : ""}. ${result.advice}`.trim();
    document.getElementById("tempo").value = result.next_tempo;
    const table = find("result");
    find("result-caption").textContent = "Where you tapped";
    table.tBodies[0].replaceChildren(...result.places.map((place) => {
      const row = document.createElement("tr");
      const head = document.createElement("th");
      head.scope = "row";
      head.textContent = place.chorus;
      const cells = [`${place.kind === "top" ? "top" : "bridge"}${place.silent ? ", in the silence" : ""}`, place.verdict].map((text) => { const cell = document.createElement("td"); cell.textContent = text; return cell; });
      row.append(head, ...cells);
      return row;
    }));
    table.hidden = false;
    startButton.focus();
  }

  startButton.addEventListener("click", start);
  stopButton.addEventListener("click", () => { stop(); said.textContent = "Stopped; nothing was scored."; });
  tapButton.addEventListener("pointerdown", (event) => { event.preventDefault(); tapButton.focus(); tap(); });
  document.addEventListener("keydown", (event) => {
    if (event.code !== "Space" || timer === null || event.repeat) return;
    event.preventDefault();
    tap();
  });
}
