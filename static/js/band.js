// Play with the band: choruses are fetched one ahead of the one that sounds, and scheduled a little ahead of the clock of
// the sound card, always from the beginning of the performance, so that nothing drifts.
import { planned, swingAt, tempoAt, timeline } from "./band-plan.js";
import { strike } from "./drum-kit.js";
import { voices } from "./synth.js";

const AHEAD = 0.3; // seconds scheduled in advance
const EVERY = 60; // milliseconds between looks
const FETCH_BEFORE = 4; // seconds before the end of a chorus the next one is asked for, at the latest
const box = document.querySelector("[data-band]");

class Band {
  constructor(element) {
    this.box = element;
    this.setting = JSON.parse(document.querySelector("#band-setting").textContent);
    this.plan = [{ key: "", tempo: null, silent: null }];
    this.open = null;
    this.ownSwing = null;
    this.playing = null;
    this.shownKey = "";
    this.find("play").addEventListener("click", () => (this.playing ? this.stop("Stopped.") : this.start()));
    this.find("more").addEventListener("click", () => this.fold(this.find("settings").hidden));
    this.find("add").addEventListener("click", () => this.add());
    this.find("remove").addEventListener("click", () => this.remove());
    this.find("ratio").addEventListener("input", () => this.setSwing(Number(this.find("ratio").value)));
    this.find("swing-usual").addEventListener("click", () => this.setSwing(null));
    this.find("edit").addEventListener("submit", (event) => this.close(event));
    this.find("edit").addEventListener("change", () => this.edited());
    this.box.addEventListener("change", (event) => this.changed(event));
    this.box.dataset.ready = "1";
    if (window.matchMedia("(max-width: 40rem)").matches) this.fold(false);
    this.draw();
    this.setSwing(null);
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

  // --- the plan ---

  get tempo() {
    const { low, high, tempo } = this.setting;
    return Math.min(high, Math.max(low, Number(this.find("tempo").value) || tempo));
  }

  key(value) {
    return this.setting.keys.find((key) => key.value === value) ?? this.setting.keys[0];
  }

  draw() {
    const list = this.find("plan");
    list.replaceChildren(...this.plan.map((chorus, at) => this.chorusItem(chorus, at)));
  }

  chorusItem(chorus, at) {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "combo__chorus";
    button.setAttribute("aria-expanded", String(this.open === at));
    button.setAttribute("aria-controls", "band-edit");
    const before = this.plan[at - 1];
    const tempo = tempoAt(this.plan, at, this.tempo);
    const key = document.createElement("b");
    key.textContent = this.key(chorus.key).short;
    key.classList.toggle("is-new", !before || before.key !== chorus.key);
    const pace = document.createElement("i");
    pace.textContent = String(tempo);
    pace.classList.toggle("is-new", !before || tempo !== tempoAt(this.plan, at - 1, this.tempo));
    const line = document.createElement("span");
    line.className = "combo__sounds";
    line.classList.toggle("combo__sounds--out", chorus.silent === "all");
    line.classList.toggle("combo__sounds--part", Array.isArray(chorus.silent));
    const words = document.createElement("i");
    words.textContent = this.silenceWords(chorus.silent);
    const number = document.createElement("i");
    number.textContent = `chorus ${at + 1}`;
    button.append(number, key, pace, line, words);
    button.addEventListener("click", () => this.edit(at));
    item.append(button);
    return item;
  }

  silenceWords(silent) {
    if (silent === "all") return "silent";
    return silent ? `silent in ${silent[0]}–${silent[1]}` : "plays";
  }

  edit(at) {
    this.open = this.open === at ? null : at;
    const form = this.find("edit");
    form.hidden = this.open === null;
    if (this.open !== null) this.fill(form, this.plan[at], at);
    this.draw();
    this.find("plan").querySelectorAll("button")[at]?.focus();
  }

  fill(form, chorus, at) {
    this.find("edit-title").textContent = `Chorus ${at + 1}`;
    this.find("edit-key").value = chorus.key;
    this.find("edit-tempo").value = tempoAt(this.plan, at, this.tempo);
    const kind = Array.isArray(chorus.silent) ? "bars" : (chorus.silent ?? "");
    for (const choice of form.querySelectorAll("[data-edit-silent]")) choice.checked = choice.value === kind;
    this.find("edit-from").value = Array.isArray(chorus.silent) ? chorus.silent[0] : 1;
    this.find("edit-to").value = Array.isArray(chorus.silent) ? chorus.silent[1] : Math.min(4, this.setting.bars);
    this.find("edit-to").max = this.setting.bars;
    this.find("remove").disabled = this.plan.length < 2;
    this.showBars(kind);
  }

  showBars(kind) {
    for (const field of this.box.querySelectorAll("[data-bars]")) field.hidden = kind !== "bars";
  }

  edited() {
    const at = this.open;
    if (at === null) return;
    const kind = [...this.box.querySelectorAll("[data-edit-silent]")].find((choice) => choice.checked)?.value;
    this.showBars(kind);
    const bar = (name) => Math.min(this.setting.bars, Math.max(1, Number(this.find(name).value) || 1));
    const bars = [bar("edit-from"), bar("edit-to")].sort((a, b) => a - b);
    const tempo = Number(this.find("edit-tempo").value);
    const held = at ? tempoAt(this.plan, at - 1, this.tempo) : this.tempo;
    this.plan[at] = {
      key: this.find("edit-key").value,
      tempo: tempo && tempo !== held ? Math.min(this.setting.high, Math.max(this.setting.low, tempo)) : null,
      silent: kind === "bars" ? bars : kind || null,
    };
    this.draw();
  }

  close(event) {
    event.preventDefault();
    const at = this.open;
    this.edited();
    this.edit(at);
  }

  add() {
    this.plan.push({ key: this.plan[this.plan.length - 1].key, tempo: null, silent: null });
    this.draw();
  }

  remove() {
    if (this.plan.length < 2) return;
    this.plan.splice(this.open, 1);
    this.open = null;
    this.find("edit").hidden = true;
    this.draw();
    this.find("add").focus();
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
    if (target.closest("[data-edit]")) return;
    if (target.matches("[data-part]") && this.playing) this.playing.gains[target.dataset.part].gain.value = target.checked ? 1 : 0;
    if (target.matches("[data-tempo], [data-style]")) {
      this.setSwing(this.ownSwing);
      this.draw();
      for (const link of this.box.querySelectorAll("[data-file]")) this.name(link);
    }
    if (target.matches("[data-tempo], [data-style], [data-ratio]") && this.playing) {
      this.stop();
      this.start();
    }
  }

  name(link) {
    const address = new URL(link.href);
    address.searchParams.set("style", this.find("style").value);
    link.href = address.pathname + address.search;
  }

  // --- sound ---

  async fetchChorus(at) {
    const chorus = planned(this.plan, at, this.find("endless").checked);
    if (!chorus) return null;
    const address = new URL(this.box.dataset.chorus, window.location.href);
    address.searchParams.set("style", this.find("style").value);
    address.searchParams.set("seed", `${this.take}-${at}`);
    if (chorus.key) address.searchParams.set("key", chorus.key);
    const answer = await fetch(address, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(answer.status === 422 ? (await answer.json()).problem : "The next chorus could not be fetched.");
    return { sound: await answer.json(), chorus };
  }

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
      const first = await this.fetchChorus(0);
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
    const tempo = tempoAt(this.plan, Math.min(number, this.plan.length - 1), this.tempo);
    const swing = swingAt(tempo, this.setting.swings, this.ownSwing, sound.swing);
    const clicks = [...this.box.querySelectorAll("[data-click]:checked")].map((tick) => Number(tick.dataset.click));
    const made = timeline(sound, { tempo, swing, silent: chorus.silent, clicks });
    for (const event of made.list) state.list.push({ ...event, time: state.until + event.time, chorus: number, key: chorus.key });
    state.until += made.length;
    state.chorus = number + 1;
    state.ending = { sound, second: 60 / tempo };
  }

  outputs() {
    const master = this.context.createDynamicsCompressor();
    const volume = this.context.createGain();
    volume.gain.value = 0.8;
    master.connect(volume).connect(this.context.destination);
    this.master = volume;
    const gains = {};
    for (const field of this.box.querySelectorAll("[data-part]")) {
      gains[field.dataset.part] = this.context.createGain();
      gains[field.dataset.part].gain.value = field.checked ? 1 : 0;
      gains[field.dataset.part].connect(master);
    }
    gains.click = this.context.createGain();
    gains.click.connect(master);
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
    else if (event.part === "drums") strike(this.context, out, event.what, event.level, at);
    else if (event.part === "piano") for (const pitch of event.pitches) voices.shells(this.context, out, pitch, at, event.length);
    else voices.bass(this.context, out, event.pitch, at, event.length);
  }

  show({ bar, number, chorus, key }) {
    if (key !== this.shownKey) this.showKey(key);
    for (const old of document.querySelectorAll("#band-chart .bar.is-now")) old.classList.remove("is-now");
    const shown = document.querySelector(`#band-chart .bar[data-played~="${number}"]`);
    shown?.classList.add("is-now");
    if (shown && this.box.classList.contains("is-folded")) shown.scrollIntoView({ block: "nearest" });
    if (bar === 0 || bar % 4 === 0) this.say(`Chorus ${chorus + 1}, ${number ? `bar ${number}` : "pickup"}`);
    this.find("plan").querySelectorAll("button").forEach((button, at) => {
      button.classList.toggle("is-playing", at === Math.min(chorus, this.plan.length - 1));
    });
  }

  // The chart in the key of the chorus.
  showKey(key) {
    this.shownKey = key;
    const address = new URL(this.box.dataset.page, window.location.href);
    address.searchParams.set("key", key);
    window.htmx.ajax("GET", address.pathname + address.search, { target: "#band-chart", swap: "outerHTML" });
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

if (box) {
  const band = new Band(box);
  window.addEventListener("pagehide", () => band.playing && band.stop());
}
