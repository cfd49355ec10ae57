// Record a take: the microphone asked for and shown, a test of two seconds, a count-in, what was to be played with the band
// or a click in the headphones; several takes kept on the device, one chosen.
import { prepare } from "../sampler.js";
import { Accompaniment, chorusLength, countIn, score } from "./accompany.js";
import { newId } from "./ids.js";
import { drop, keep, mine, Sender } from "./store.js";

const TAIL = 1.2; // seconds recorded after the last bar
const FORMATS = ["audio/webm;codecs=opus", "audio/mp4;codecs=mp4a.40.2", "audio/mp4", "audio/ogg;codecs=opus"];
const LEAKS = -25; // dB: above this the band is judged to be in the microphone
const SOUND = { audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } };

class Recorder {
  rows;

  constructor(box) {
    this.box = box;
    this.data = JSON.parse(box.querySelector('script[type="application/json"]').textContent);
    this.leak = null;
    this.sender = new Sender(this.data.user, (row, state, words) => this.told(row, state, words));
    this.find("open").addEventListener("click", () => this.open());
    this.find("test").addEventListener("click", () => this.test());
    this.find("record").addEventListener("click", () => (this.running ? this.finish() : this.record()));
    this.find("takes").addEventListener("click", (event) => this.pressed(event));
    box.dataset.ready = "";
    if (!navigator.mediaDevices?.getUserMedia || !window.MediaRecorder) {
      this.find("open").disabled = true;
      this.trouble(window.isSecureContext ? "This browser cannot record. Use a newer one, or hand in a file." : "Browsers open the microphone only on an encrypted connection (https). Ask whoever runs the site, or hand in a file.");
    }
    this.list().then(() => this.sender.flush()).catch(() => this.trouble("This browser keeps nothing (a private window?): a take is lost when the page is closed."));
  }

  find(name) {
    return this.box.querySelector(`[data-${name}]`);
  }

  say(words) {
    this.find("say").textContent = words;
  }

  trouble(words) {
    const problem = this.find("problem");
    problem.textContent = words;
    problem.hidden = !words;
  }

  get choice() {
    const number = (name, low, high, usual) => Math.min(high, Math.max(low, Number(this.find(name)?.value) || usual));
    return {
      kind: this.find("kind")?.value ?? this.data.kind,
      tempo: number("tempo", this.data.low, this.data.high, this.data.tempo),
      choruses: number("choruses", 1, this.data.most, 1),
      what: this.find("with").value,
      count: number("count", 1, 2, 1),
    };
  }

  // --- the microphone

  async open() {
    try {
      this.stream = await navigator.mediaDevices.getUserMedia(SOUND);
    } catch (error) {
      this.trouble(error.name === "NotFoundError" ? "No microphone was found. Plug one in, then press again." : "The microphone is not open to this page: allow it in the browser's address bar, then press again.");
      return;
    }
    this.trouble("");
    this.context = new AudioContext();
    await this.context.resume();
    prepare(this.context);
    this.analyser = this.context.createAnalyser();
    this.analyser.fftSize = 2048;
    this.samples = new Float32Array(this.analyser.fftSize);
    this.context.createMediaStreamSource(this.stream).connect(this.analyser);
    this.find("closed").hidden = true;
    this.find("stage").hidden = false;
    this.meter = setInterval(() => this.level(), 100);
    this.find("record").focus();
    this.say("The microphone is open. Play a loud note: the level should stay below the end.");
  }

  rms() {
    this.analyser.getFloatTimeDomainData(this.samples);
    let sum = 0;
    let peak = 0;
    for (const value of this.samples) {
      sum += value * value;
      peak = Math.max(peak, Math.abs(value));
    }
    return { rms: Math.sqrt(sum / this.samples.length), peak };
  }

  level() {
    const { rms, peak } = this.rms();
    const loud = 20 * Math.log10(Math.max(rms, 1e-5));
    this.find("level").value = Math.max(0, 60 + loud);
    const words = peak > 0.98 ? "too loud: go further away" : loud < -50 ? "very quiet" : "good";
    if (this.find("level-words").textContent !== words) this.find("level-words").textContent = words;
    this.heard?.push(rms * rms);
  }

  recorderOf() {
    const type = FORMATS.find((format) => MediaRecorder.isTypeSupported(format));
    const made = new MediaRecorder(this.stream, { mimeType: type, audioBitsPerSecond: 96000 });
    const parts = [];
    made.addEventListener("dataavailable", (event) => parts.push(event.data));
    const over = new Promise((done) => { made.addEventListener("stop", () => done(new Blob(parts, { type: made.mimeType.split(";")[0] }))); });
    return { made, over };
  }

  // Two seconds with the headphones sounding and nobody playing: what the microphone hears of them.
  async test() {
    if (this.running) return;
    const choice = this.choice;
    const made = await this.scored({ ...choice, choruses: 1 });
    if (!made) return;
    this.say("Two seconds: stay silent.");
    const { made: recorder, over } = this.recorderOf();
    this.running = { recorder };
    this.heard = [];
    recorder.start();
    const sound = new Accompaniment(this.context, made.list, this.context.currentTime + 0.1);
    await new Promise((done) => { setTimeout(done, 2100); });
    sound.stop();
    recorder.stop();
    const mean = this.heard.reduce((sum, one) => sum + one, 0) / Math.max(1, this.heard.length);
    this.heard = null;
    this.running = null;
    this.leak = choice.what === "nothing" ? null : Math.round(10 * Math.log10(Math.max(mean, 1e-10)) * 10) / 10;
    const player = this.find("test-sound");
    player.src = URL.createObjectURL(await over);
    player.hidden = false;
    if (this.leak !== null && this.leak > LEAKS) this.say("What sounds in the headphones comes into the microphone. Use closed headphones, or softer; a take is kept all the same, only the machine will not judge it.");
    else this.say("The test is done: hear it below. The headphones stay out of the microphone.");
  }

  async scored(choice) {
    try {
      this.say("Getting ready …");
      return await score(this.data, { ...choice, take: String(Math.floor(Math.random() * 1e6)) });
    } catch (error) {
      this.trouble(error.message);
      this.say("");
      return null;
    }
  }

  async record() {
    this.trouble("");
    const choice = this.choice;
    const made = await this.scored(choice);
    if (!made) return;
    await this.context.resume();
    const second = 60 / choice.tempo;
    const lead = countIn(this.data.bars, choice.count);
    const { made: recorder, over } = this.recorderOf();
    const started = new Promise((done) => { recorder.addEventListener("start", done, { once: true }); });
    recorder.start();
    await started;
    const zero = this.context.currentTime; // the file begins here, to within what the browser takes to say so
    const begin = zero + 0.25;
    const first = begin + lead.length * second;
    const list = [...lead.list.map((click) => ({ ...click, time: click.time * second })), ...made.list.map((event) => ({ ...event, time: event.time + lead.length * second }))];
    const late = this.context.outputLatency || this.context.baseLatency || 0; // heard later than it was sent out
    this.running = { recorder, over, choice, sound: new Accompaniment(this.context, list, begin), startsAt: first - zero + late, swing: made.swing, first, length: made.length };
    const button = this.find("record");
    button.textContent = "Stop";
    button.setAttribute("aria-pressed", "true");
    this.say("Count-in");
    this.clock = setInterval(() => this.tick(), 100);
  }

  tick() {
    const { first, length, choice } = this.running;
    const gone = this.context.currentTime - first;
    if (gone >= length + TAIL) { this.finish(); return; }
    if (gone < 0) return;
    const crotchets = (gone * choice.tempo) / 60;
    const chorus = Math.min(choice.choruses - 1, Math.floor(crotchets / chorusLength(this.data.bars)));
    const within = crotchets - chorus * chorusLength(this.data.bars);
    const bar = this.data.bars.findLast((row) => row[1] <= within + 1e-6) ?? this.data.bars[0];
    const words = gone >= length ? "Done" : `${choice.choruses > 1 ? `Chorus ${chorus + 1}, ` : ""}${bar[0] ? `bar ${bar[0]}` : "pickup"}`;
    if (this.find("say").textContent !== words) this.say(words);
  }

  async finish() {
    const { recorder, over, sound, choice, startsAt, swing } = this.running;
    clearInterval(this.clock);
    sound.stop();
    recorder.stop();
    this.running = null;
    const button = this.find("record");
    button.textContent = "Record another";
    button.removeAttribute("aria-pressed");
    const blob = await over;
    const row = {
      token: newId(), user: String(this.data.user), url: this.data.url, title: this.title(choice), made: new Date().toISOString(), state: "kept", blob, subject: this.data.subject,
      fields: {
        kind: choice.kind, revision: this.data.revision, line: this.data.line, query: this.data.query, tempo: choice.tempo, starts_at: startsAt.toFixed(3),
        choruses: choice.choruses, swing: swing.toFixed(3), heard_with: choice.what, leak: this.leak,
      },
    };
    try {
      await keep(row);
      this.say("Kept on this device. Listen, then choose one.");
    } catch {
      this.trouble("This device has no room for the take. Choose it now, before the page is closed, or delete an older one.");
    }
    this.show(row);
  }

  title({ kind, tempo }) {
    const name = this.find("kind") ? this.find("kind").selectedOptions[0].textContent : this.data.title;
    return `${this.data.tune ? `${this.data.tune}: ` : ""}${kind === this.data.kind ? this.data.title : name}, at ${tempo}`;
  }

  // --- the takes on this device

  async list() {
    for (const row of await mine(this.data.user)) if (row.subject === this.data.subject || row.state !== "kept") this.show(row);
  }

  show(row) {
    this.rows ??= new Map();
    this.rows.set(row.token, row);
    const item = this.find("one").content.firstElementChild.cloneNode(true);
    item.dataset.token = row.token;
    item.querySelector("[data-name]").textContent = `${row.title}, ${new Date(row.made).toLocaleTimeString("en", { hour: "2-digit", minute: "2-digit", hour12: false })}`;
    item.querySelector("audio").src = URL.createObjectURL(row.blob);
    this.find("takes").prepend(item);
    this.find("takes").hidden = false;
    if (row.state === "chosen") this.told(row, "sending", "");
    if (row.state === "refused") this.told(row, "refused", row.problem);
  }

  async pressed(event) {
    const item = event.target.closest("[data-token]");
    const row = item && this.rows.get(item.dataset.token);
    if (event.target.closest("[data-choose]")) await this.sender.choose(row);
    if (event.target.closest("[data-delete]")) {
      await drop(row.token);
      item.remove();
      this.rows.delete(row.token);
      this.say("Deleted from this device.");
    }
  }

  told(row, state, words) {
    const item = this.box.querySelector(`[data-token="${row.token}"]`);
    if (!item) return;
    item.dataset.state = state;
    const line = item.querySelector("[data-state-words]");
    for (const name of ["choose", "delete"]) item.querySelector(`[data-${name}]`).hidden = state === "taken" || (name === "choose" && state === "sending");
    if (state === "taken") {
      const link = document.createElement("a");
      link.href = words.url;
      link.textContent = "Open it";
      line.replaceChildren("Kept by the programme, only you hear it. ", link);
      if (this.find("say").textContent.startsWith("Kept on this device")) this.say(""); // one is chosen
      this.box.dispatchEvent(new CustomEvent("take:taken", { bubbles: true, detail: words }));
    } else line.textContent = state === "sending" ? "Chosen, going up" : words;
  }

  close() {
    if (this.running?.sound) this.finish();
    clearInterval(this.meter);
    this.stream?.getTracks().forEach((track) => track.stop());
    this.context?.close();
  }
}

let open = [];

function mount() {
  open = open.filter((one) => one.box.isConnected || one.close());
  for (const box of document.querySelectorAll("[data-recorder]:not([data-ready])")) open.push(new Recorder(box));
}

document.addEventListener("htmx:after:swap", mount);
window.addEventListener("pagehide", () => open.forEach((one) => one.close()));
mount();
