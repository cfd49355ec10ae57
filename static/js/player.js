// Plays a sheet: schedules a little ahead of the clock of the sound card, so that a busy page does not stumble.
import { barRange, countIn, events } from "./schedule.js";
import { openDesk } from "./desk.js";
import { strike } from "./drum-kit.js";
import { prepare } from "./sampler.js";
import { voices } from "./synth.js";

const AHEAD = 0.25; // seconds scheduled in advance
const EVERY = 60; // milliseconds between looks
const SAY_EVERY = 4; // bars between announcements: a screen reader follows without being flooded; the eye sees every bar

export function attachPlayer(sheet) {
  const box = sheet.querySelector("[data-player]");
  const data = sheet.querySelector("#sound");
  if (!box || !data) return () => {};
  const player = new Player(box, sheet, JSON.parse(data.textContent));
  return () => player.stop();
}

class Player {
  context;

  constructor(box, sheet, sound) {
    this.box = box;
    this.sheet = sheet;
    this.sound = sound;
    this.button = box.querySelector("[data-play]");
    this.now = box.querySelector("[data-now]"); // seen
    this.said = box.querySelector("[data-said]"); // heard by a screen reader
    this.playing = null;
    this.played = 0;
    const numbers = sound.bars.map((bar) => bar[0]);
    const to = box.querySelector("[data-to]");
    if (!to.value) to.value = String(Math.max(...numbers));
    this.button.addEventListener("click", () => (this.playing ? this.stop("Stopped.") : this.start()));
    box.addEventListener("change", (event) => this.changed(event));
  }

  value(name) {
    const field = this.box.querySelector(`[data-${name}]`);
    return field.type === "checkbox" ? field.checked : Number(field.value);
  }

  // What is played stands in the fields, where something else was typed.
  write(tempo, numbers) {
    const set = (name, value) => (this.box.querySelector(`[data-${name}]`).value = String(value));
    if (this.value("tempo") !== tempo) set("tempo", tempo);
    if (!numbers.includes(this.value("from"))) set("from", Math.max(1, Math.min(...numbers)));
    if (!numbers.includes(this.value("to"))) set("to", Math.max(...numbers));
  }

  changed(event) {
    const part = event.target.dataset.part;
    if (part && this.playing) this.playing.gains[part].gain.value = event.target.checked ? 1 : 0;
    else if (this.playing) this.restart();
  }

  restart() {
    this.stop();
    this.start();
  }

  async start() {
    // A sound may only begin in answer to a tap or a key: this is called by one.
    this.context ??= new AudioContext();
    const asked = (this.asked = {}); // of two starts the later one counts
    this.tell("Getting ready …");
    await this.context.resume();
    await prepare(this.context);
    if (this.asked !== asked || this.playing) return;
    const tempo = Math.min(320, Math.max(30, this.value("tempo") || this.sound.tempo));
    const [first, last] = barRange(this.sound.bars, this.value("from"), this.value("to"));
    this.write(tempo, this.sound.bars.slice(first, last + 1).map((bar) => bar[0]));
    const chosen = events(this.sound, first, last, this.value("swing"));
    const lead = this.value("count") ? countIn(this.sound.bars[first]) : { list: [], length: 0 };
    const begin = this.context.currentTime + 0.12;
    const second = 60 / tempo;
    this.playing = {
      chosen, first, second, at: 0, lap: 0, said: -99, gains: this.outputs(), queue: [],
      origin: begin + lead.length * second,
    };
    for (const click of lead.list) voices.click(this.context, this.playing.gains.click, click.accent, begin + click.time * second);
    this.button.textContent = "Stop";
    this.button.setAttribute("aria-pressed", "true");
    this.tell(lead.length ? "Count-in." : "");
    this.startedAt = performance.now();
    this.timer = setInterval(() => this.look(), EVERY);
    this.look();
  }

  outputs() {
    const fields = [...this.box.querySelectorAll("[data-part]")];
    // The count-in is heard even when the click is muted later.
    const { gains, volume } = openDesk(this.context, fields.map((field) => field.dataset.part));
    for (const field of fields) gains[field.dataset.part].gain.value = field.checked ? 1 : 0;
    this.master = volume;
    return gains;
  }

  look() {
    const state = this.playing;
    if (!state) return;
    const until = this.context.currentTime + AHEAD;
    for (;;) {
      if (state.at >= state.chosen.list.length) {
        if (!this.value("loop")) {
          if (this.context.currentTime > this.timeOf(state.chosen.length)) this.stop("The end.");
          break;
        }
        state.at = 0;
        state.lap += 1;
      }
      const event = state.chosen.list[state.at];
      const at = this.timeOf(event.time);
      if (at > until) break;
      this.sound_(event, Math.max(at, this.context.currentTime));
      state.at += 1;
    }
    while (state.queue.length && state.queue[0].at <= this.context.currentTime) this.show(state.queue.shift());
    this.rest();
  }

  timeOf(time) {
    const state = this.playing;
    return state.origin + (state.lap * state.chosen.length + time) * state.second;
  }

  sound_(event, at) {
    const state = this.playing;
    const out = state.gains[event.part];
    if (event.part === "bar") state.queue.push({ at, bar: event.bar });
    else if (event.part === "click") voices.click(this.context, out, event.accent, at);
    else if (event.part === "drums") strike(this.context, out, event.what, event.level, at);
    else voices[event.part === "line" ? (this.sound.voice ?? "line") : event.part](this.context, out, event.pitch, at, event.length * state.second);
  }

  show({ bar }) {
    const state = this.playing;
    for (const old of this.sheet.querySelectorAll(".measure.is-now")) old.classList.remove("is-now");
    const measure = this.sheet.querySelector(`.measure[data-bar="${bar}"]`);
    measure?.classList.add("is-now");
    const number = this.sound.bars[bar][0];
    const words = number ? `Bar ${number}` : "Pickup";
    this.now.textContent = words;
    if (bar === state.first || Math.abs(bar - state.said) >= SAY_EVERY) {
      state.said = bar;
      this.said.textContent = words;
    }
  }

  tell(words) {
    this.now.textContent = words;
    this.said.textContent = words;
  }

  rest() {
    const minutes = Number(this.box.dataset.rest);
    const played = (this.played + performance.now() - this.startedAt) / 60000;
    if (!minutes || played < minutes) return;
    const note = this.box.querySelector("[data-rest-note]");
    note.querySelector("[data-rest-minutes]").textContent = String(Math.round(played));
    note.hidden = false;
    this.tell(note.textContent);
    this.startedAt = performance.now();
    this.played = 0;
  }

  stop(words = "") {
    this.asked = null;
    if (!this.playing) return;
    clearInterval(this.timer);
    this.played += performance.now() - this.startedAt;
    this.playing = null;
    this.master?.disconnect();
    for (const old of this.sheet.querySelectorAll(".measure.is-now")) old.classList.remove("is-now");
    this.button.textContent = "Play";
    this.button.removeAttribute("aria-pressed");
    this.tell(words);
  }
}
