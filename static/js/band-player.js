// The band as it sounds: choruses are fetched one ahead of the one that sounds, and scheduled a little ahead of the clock of
// the sound card, always from the beginning of the performance, so that nothing drifts. Which chorus comes, and what a page
// shows of it, is said by what extends this.
import { swingAt, swung, timeline } from "./band-plan.js";
import { openDesk } from "./desk.js";
import { strike } from "./drum-kit.js";
import { prepare } from "./sampler.js";
import { voices } from "./synth.js";

const AHEAD = 0.3; // seconds scheduled in advance
const EVERY = 60; // milliseconds between looks
const FETCH_BEFORE = 4; // seconds before the end of a chorus the next one is asked for, at the latest

export class BandPlayer {
  context;

  constructor(element, setting) {
    this.box = element;
    this.setting = setting;
    this.ownSwing = null;
    this.playing = null;
    this.find("play").addEventListener("click", () => (this.playing ? this.stop("Stopped.") : this.start()));
    this.find("more").addEventListener("click", () => this.fold(this.find("settings").hidden));
    this.find("ratio").addEventListener("input", () => this.setSwing(Number(this.find("ratio").value)));
    this.find("swing-usual").addEventListener("click", () => this.setSwing(null));
    this.box.addEventListener("change", (event) => this.changed(event));
    this.box.dataset.ready = "1";
    if (window.matchMedia("(max-width: 40rem)").matches) this.fold(false);
  }

  find(name) {
    return this.box.querySelector(`[data-${name}]`);
  }

  fold(open) {
    this.find("settings").hidden = !open;
    this.box.classList.toggle("is-folded", !open);
    const more = this.find("more");
    more.textContent = open ? "Less" : "More";
    more.setAttribute("aria-expanded", String(open));
  }

  // --- settings ---

  get tempo() {
    const { low, high, tempo } = this.setting;
    return Math.min(high, Math.max(low, Number(this.find("tempo").value) || tempo));
  }

  setSwing(ratio) {
    this.ownSwing = ratio;
    const swings = this.find("style").selectedOptions[0].dataset.swing === "1";
    const usual = swingAt(this.tempo, this.setting.swings, null, swings);
    const shown = ratio ?? usual;
    this.find("ratio").value = String(shown);
    this.find("ratio").disabled = !swings;
    this.find("swing-words").textContent = swings ? `${shown.toFixed(1)} to 1${ratio === null ? ", as usual" : ", yours"}` : "even in this style";
    this.find("ratio").setAttribute("aria-valuetext", `${shown.toFixed(1)} to 1`);
  }

  changed(event) {
    const target = event.target;
    if (target.matches("[data-part]") && this.playing) this.playing.gains[target.dataset.part].gain.value = target.checked ? 1 : 0;
    if (target.matches("[data-tempo], [data-style]")) this.setSwing(this.ownSwing);
    if (target.matches("[data-tempo], [data-style], [data-ratio]") && this.playing) {
      this.stop();
      this.start();
    }
  }

  // --- what a page may say otherwise ---

  // The tempo of a chorus, from 0.
  tempoOf(_chorus) {
    return this.tempo;
  }

  // {sound, chorus} of the next chorus, or null after the last.
  fetchChorus(_chorus) {
    return Promise.resolve(null);
  }

  // What is played above the band in a chorus: [start, length, pitch] in crotchets, straight.
  above(_number, _chorus) {
    return [];
  }

  show(_event) {}

  async get(address) {
    const answer = await fetch(address, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(answer.status === 422 ? (await answer.json()).problem : "The next chorus could not be fetched.");
    return answer.json();
  }

  // --- sound ---

  async start() {
    this.context ??= new AudioContext();
    await this.context.resume();
    this.take = String(Math.floor(Math.random() * 1e6));
    this.say("Getting ready …");
    this.find("problem").hidden = true;
    const play = this.find("play");
    play.textContent = "Stop";
    play.setAttribute("aria-pressed", "true");
    const state = { list: [], at: 0, chorus: 0, loading: false, ended: false, gains: this.outputs(), queue: [], until: 0 };
    this.playing = state;
    try {
      const [first] = await Promise.all([this.fetchChorus(0), prepare(this.context)]);
      if (this.playing !== state) return;
      const lead = this.countIn(first.sound, state);
      state.until = this.context.currentTime + 0.15 + lead;
      this.append(state, first, 0);
    } catch (error) {
      this.fail(error);
      return;
    }
    this.timer = setInterval(() => this.look(), EVERY);
    this.look();
  }

  countIn(sound, state) {
    const bars = Number(this.find("count").value);
    const bar = sound.bars.find((one) => one[2] === Math.max(...sound.bars.map((each) => each[2])));
    const step = bar[4] === 8 && bar[3] % 3 === 0 ? 1.5 : 4 / bar[4];
    const second = 60 / this.tempo;
    const beats = Math.round(bar[2] / step);
    const begin = this.context.currentTime + 0.15;
    for (let beat = 0; beat < bars * beats; beat += 1) {
      voices.click(this.context, state.gains.click, beat % beats === 0, begin + beat * step * second);
    }
    return bars * bar[2] * second;
  }

  // A chorus begins where the last one ended: times are added once, from the first, and never corrected by the clock.
  append(state, { sound, chorus }, number) {
    const tempo = this.tempoOf(number);
    const swing = swingAt(tempo, this.setting.swings, this.ownSwing, sound.swing);
    const clicks = [...this.box.querySelectorAll("[data-click]:checked")].map((tick) => Number(tick.dataset.click));
    const made = timeline(sound, { tempo, swing, silent: chorus.silent, clicks });
    const above = this.above(number, chorus).map(([time, length, pitch]) => {
      const [from, to] = [swung(time, swing), swung(time + length, swing)].map((at) => (at * 60) / tempo);
      return { part: "line", time: from, length: to - from, pitch };
    });
    const all = [...made.list, ...above].sort((a, b) => a.time - b.time);
    for (const event of all) state.list.push({ ...event, time: state.until + event.time, chorus: number, key: chorus.key });
    state.until += made.length;
    state.chorus = number + 1;
    state.ending = { sound, second: 60 / tempo };
  }

  outputs() {
    const fields = [...this.box.querySelectorAll("[data-part]")];
    const { gains, volume } = openDesk(this.context, [...fields.map((field) => field.dataset.part), "click", "line"]);
    for (const field of fields) gains[field.dataset.part].gain.value = field.checked ? 1 : 0;
    this.master = volume;
    return gains;
  }

  look() {
    const state = this.playing;
    if (!state) return;
    const now = this.context.currentTime;
    while (state.at < state.list.length && state.list[state.at].time <= now + AHEAD) this.sound(state, state.list[state.at++]);
    if (state.at > 512) {
      state.list.splice(0, state.at);
      state.at = 0;
    }
    while (state.queue.length && state.queue[0].time <= now) this.show(state.queue.shift());
    if (!state.ended && !state.loading && state.until - now < FETCH_BEFORE + AHEAD) this.next(state);
    if (state.ended && now > state.until) this.stop("The end.");
  }

  async next(state) {
    state.loading = true;
    try {
      const found = await this.fetchChorus(state.chorus);
      if (this.playing !== state) return;
      if (found) this.append(state, found, state.chorus);
      else this.end(state);
    } catch (error) {
      if (this.playing === state) this.fail(error);
    }
    state.loading = false;
  }

  // The last chord: held for a bar after the last chorus.
  end(state) {
    const { sound, second } = state.ending;
    const [bass, ...pitches] = sound.ending;
    const length = 4 * second;
    state.list.push({ part: "bass", time: state.until, length, pitch: bass }, { part: "piano", time: state.until, length, pitches },
      { part: "drums", time: state.until, what: "crash", level: 0.5 });
    state.until += length;
    state.ended = true;
  }

  sound(state, event) {
    const at = Math.max(event.time, this.context.currentTime);
    const out = state.gains[event.part];
    if (event.part === "bar") state.queue.push(event);
    else if (event.part === "click") voices.click(this.context, out, event.accent, at);
    else if (event.part === "line") voices.line(this.context, out, event.pitch, at, event.length);
    else if (event.part === "drums") strike(this.context, out, event.what, event.level, at);
    else if (event.part === "piano") for (const pitch of event.pitches) voices.shells(this.context, out, pitch, at, event.length);
    else voices.bass(this.context, out, event.pitch, at, event.length);
  }

  say(words) {
    this.find("now").textContent = words;
  }

  fail(error) {
    const problem = this.find("problem");
    problem.textContent = `${error.message} What was played so far is not lost; press Play to go on.`;
    problem.hidden = false;
    this.stop("Stopped.");
  }

  stop(words = "") {
    clearInterval(this.timer);
    this.playing = null;
    this.master?.disconnect();
    for (const old of document.querySelectorAll(".bar.is-now, .combo__chorus.is-playing")) old.classList.remove("is-now", "is-playing");
    const play = this.find("play");
    play.textContent = "Play";
    play.removeAttribute("aria-pressed");
    this.say(words);
  }
}
