// A take on the page: it plays with the staff or the chart moving, whole or bar by bar, slowed down, in turn with another;
// an instructor stops it where something is to be said.
import "../key-list.js";
import { letters } from "../keys.js";
import { CommentForm, sendPart } from "./comment.js";
import { Staff } from "./staff.js";
import { evenRate, secondsAt, spotAt, spotWords, stepBar } from "./time.js";

const EVERY = 30; // milliseconds between looks
const TYPING = "input:not([type=checkbox], [type=radio]), textarea, select, audio, dialog";
const MOST_TRIES = 9; // some three minutes in all
let current = null;

class TakePage {
  constructor(root) {
    this.root = root;
    this.data = JSON.parse(root.querySelector("#take-data").textContent);
    this.sound = root.querySelector("[data-sound]");
    this.side = "take";
    this.rate = 1;
    this.staff = new Staff(root, this.data, (spot) => this.go(spot, true));
    if (this.sound) this.deck();
    if (this.data.wave) this.drawLater();
    if (root.dataset.commenting) this.form = new CommentForm(this);
    this.margin();
    this.whole();
    root.addEventListener("take:go", (event) => this.seek(event.detail.seconds, event.detail.play));
    root.dataset.ready = "";
    root.dispatchEvent(new CustomEvent("take:mounted", { bubbles: true }));
  }

  find(name) {
    return this.root.querySelector(`[data-${name}]`);
  }

  // The server draws the waveform in the background; a page that came first asks for it, ever more rarely.
  drawLater(tries = 0) {
    if (tries === MOST_TRIES) return;
    setTimeout(async () => {
      if (!this.root.isConnected) return;
      const answer = await fetch(this.data.wave, { headers: { Accept: "application/json" } }).catch(() => null);
      if (answer?.status !== 200) return this.drawLater(tries + 1);
      this.data.peaks = (await answer.json()).peaks;
      this.staff.waves();
    }, 1500 * 1.6 ** tries);
  }

  get hasBars() {
    return this.data.times.length > 0 && this.data.bars.length > 0;
  }

  deck() {
    this.sound.preservesPitch = true;
    this.sound.controls = false;
    this.sound.addEventListener("ended", () => this.stop());
    this.sound.addEventListener("error", () => this.trouble("The sound could not be fetched. Look at the connection, then press Play again."));
    const play = this.find("play");
    play.hidden = false;
    play.addEventListener("click", () => this.toggle());
    for (const name of ["speeds", "sides", "loop-box", "bar-back", "comment-here"]) if (this.find(name)) this.find(name).hidden = !this.hasBars && name !== "speeds";
    this.find("bar-back")?.addEventListener("click", () => this.step(-1));
    this.find("speeds").addEventListener("change", (event) => this.setRate(Number(event.target.value)));
    this.find("sides")?.addEventListener("change", (event) => this.setSide(event.target.value));
    this.find("chorus")?.addEventListener("change", (event) => this.go({ chorus: Number(event.target.value), bar: 0, beat: 0 }, this.playing));
    this.find("comment-here")?.addEventListener("click", () => this.commentHere());
    this.find("advice-switch")?.addEventListener("change", (event) => { this.root.querySelector("#take-advice").hidden = !event.target.checked; });
    this.find("beside-form")?.addEventListener("change", (event) => event.target.form.requestSubmit());
    if (this.data.other) {
      this.other = new Audio(this.data.other.sound);
      this.other.preload = "auto";
      this.other.preservesPitch = true;
      this.other.addEventListener("ended", () => this.stop());
    }
    this.spot = { chorus: 1, bar: 0, beat: 0 };
    if (this.hasBars) this.say();
  }

  // --- sound

  get active() {
    return this.onOther ? this.other : this.sound;
  }

  get times() {
    return this.onOther ? this.data.other.times : this.data.times;
  }

  toggle() {
    if (this.playing) this.stop();
    else this.start();
  }

  async start() {
    this.find("problem").hidden = true;
    this.playing = true;
    this.setPlayWords("Stop");
    if (this.sound.ended) this.sound.currentTime = this.data.starts_at;
    if (!this.begun) {
      this.begun = true;
      if (!this.sound.currentTime && !this.onOther) await this.move(this.sound, Math.max(0, this.data.starts_at - 1));
    }
    this.setSpeed();
    try {
      await this.active.play();
    } catch (error) {
      if (error.name !== "AbortError") this.trouble("The sound could not be played. Press Play again.");
      return;
    }
    clearInterval(this.timer);
    this.timer = setInterval(() => this.look(), EVERY);
  }

  stop() {
    this.playing = false;
    clearInterval(this.timer);
    this.sound.pause();
    this.other?.pause();
    this.setPlayWords("Play");
  }

  setPlayWords(words) {
    this.find("play-words").textContent = words;
  }

  trouble(words) {
    this.stop();
    const problem = this.find("problem");
    problem.textContent = words;
    problem.hidden = false;
  }

  setRate(rate) {
    this.rate = rate;
    this.setSpeed();
  }

  setSpeed() {
    this.sound.playbackRate = this.rate;
    if (this.other) {
      const even = this.side === "turn" && this.spot ? evenRate(this.data.times, this.data.other.times, this.spot) : 1;
      this.other.playbackRate = Math.max(0.25, this.rate * even);
    }
  }

  async setSide(side) {
    const spot = this.here();
    const was = this.playing;
    this.stop();
    this.side = side;
    this.onOther = side === "other";
    await this.go(spot, was);
  }

  async move(sound, seconds) {
    if (sound.readyState < 1) await new Promise((done) => { sound.addEventListener("loadedmetadata", done, { once: true }); sound.load(); });
    sound.currentTime = Math.max(0, seconds);
    this.begun = true;
  }

  async seek(seconds, play) {
    if (!this.sound) return;
    this.onOther = false;
    await this.move(this.sound, seconds);
    this.look(true);
    if (play && !this.playing) await this.start();
  }

  async go(spot, play) {
    if (!this.sound || !this.hasBars || !spot) return;
    await this.move(this.active, secondsAt(this.times, this.data.bars, spot));
    this.spot = spot;
    this.staff.show(spot);
    this.say();
    if (play && !this.playing) await this.start();
  }

  // The place that sounds now.
  here() {
    if (!this.hasBars) return null;
    return spotAt(this.times, this.data.bars, this.active.currentTime);
  }

  step(way) {
    const here = this.here();
    if (!here) return;
    this.go(way < 0 && here.beat > 0.5 ? { ...here, beat: 0 } : stepBar(this.times, this.data.bars, here, way), this.playing);
  }

  async look(still = false) {
    const spot = this.here();
    if (!spot) return;
    const over = this.spot && !still && (spot.bar !== this.spot.bar || spot.chorus !== this.spot.chorus);
    if (over && this.find("loop")?.checked && this.side !== "turn") {
      await this.go({ ...this.spot, beat: 0 }, true);
      return;
    }
    if (over && this.side === "turn") {
      await this.swap(spot);
      return;
    }
    this.spot = spot;
    this.staff.show(spot);
    this.say();
    this.near();
    this.root.dispatchEvent(new CustomEvent("take:at", { detail: { seconds: this.sound.currentTime, ...spot } }));
  }

  // In turn: the bar that has just sounded once more from the other one; after that the next bar.
  async swap(spot) {
    const bar = this.onOther && !this.find("loop")?.checked ? spot : this.spot;
    this.active.pause();
    this.onOther = !this.onOther;
    if (this.onOther && bar.chorus > this.data.other.times.length) bar.chorus = this.data.other.times.length;
    clearInterval(this.timer);
    this.spot = { ...bar, beat: 0 };
    await this.move(this.active, secondsAt(this.times, this.data.bars, this.spot));
    this.setSpeed();
    if (this.playing) await this.start();
  }

  say() {
    if (!this.spot) return;
    const side = this.onOther ? `, ${this.data.other.name}` : this.side === "turn" ? ", this take" : "";
    const words = spotWords(this.data.bars, this.data.choruses, this.spot) + side;
    const now = this.find("now");
    if (now && now.textContent !== words) now.textContent = words;
  }

  // The comment that the take has come to.
  near() {
    const here = this.sound.currentTime;
    for (const row of this.root.querySelectorAll("[data-comment]")) {
      const at = Number(row.dataset.at);
      row.classList.toggle("is-near", here >= at - 0.1 && here < at + 3);
    }
  }

  // --- comments

  // The programme's words for the whole: each is kept as soon as it is chosen.
  whole() {
    const form = this.find("whole");
    form?.addEventListener("change", async () => {
      const line = form.querySelector("[data-whole-saved]");
      const answer = await sendPart(form.action, new FormData(form));
      line.textContent = answer.problem ?? "Kept";
      line.classList.toggle("saved--not", Boolean(answer.problem));
    });
  }

  margin() {
    const box = this.find("comments");
    for (const name of ["go", "loop-here"]) for (const button of box.querySelectorAll(`[data-${name}]`)) button.hidden = !this.sound || (name !== "go" && !this.hasBars);
    if (this.watching) return;
    this.watching = true;
    box.addEventListener("click", (event) => {
      const row = event.target.closest("[data-comment]");
      if (event.target.closest("[data-go]")) this.seek(Number(row.dataset.at) - 1, true);
      if (event.target.closest("[data-loop-here]")) this.loopAt(Number(row.dataset.comment));
    });
    box.addEventListener("play", () => this.playing && this.stop(), true); // a spoken comment is heard by itself
    box.addEventListener("submit", (event) => {
      if (!event.target.matches("[data-part]")) return;
      event.preventDefault();
      sendPart(event.target.action, new FormData(event.target)).then((answer) => this.said(answer));
    });
  }

  loopAt(pk) {
    const one = this.staff.comments.find((row) => row.pk === pk);
    if (!one) return;
    this.find("loop").checked = true;
    this.go({ chorus: one.chorus, bar: one.bar, beat: 0 }, true);
  }

  // What the server answered to a comment, an answer or a taking back; true when it took it.
  /** @param {any} answer */
  said({ html, places, problem }) {
    if (html) this.find("comments").innerHTML = html;
    if (places) {
      this.data.comments = places;
      this.staff.pegs(places);
    }
    this.margin();
    if (problem) {
      this.find("problem").textContent = problem;
      this.find("problem").hidden = false;
    }
    return Boolean(html) && !problem;
  }

  commentHere() {
    if (!this.form || !this.hasBars) return;
    const spot = this.here();
    this.was = this.playing;
    this.stop();
    this.form.open(spot);
  }

  quick(index) {
    const words = this.root.querySelectorAll("[data-quick]")[index]?.dataset.quick;
    if (words && this.hasBars) this.form.quick(words, this.here());
  }
}

export function mount() {
  const root = document.querySelector("[data-take]");
  if (!root || "ready" in root.dataset) return;
  if (current?.sound) current.stop();
  current = new TakePage(root);
}

const arrows = { ArrowDown: 1, ArrowUp: -1 };
document.addEventListener("keydown", (event) => {
  if (!current?.root.isConnected || !current.sound) return;
  if (event.target.closest?.(TYPING) || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
  const onControl = event.target.closest?.("button, a, summary, label, input");
  if (event.key === " " && !onControl) { event.preventDefault(); current.toggle(); }
  if (event.key === "Enter" && !onControl && current.form) { event.preventDefault(); current.commentHere(); }
  if (arrows[event.key] && !event.target.matches?.("input")) { event.preventDefault(); current.step(arrows[event.key]); }
});
const act = { c: () => current?.commentHere(), l: () => current?.find("loop")?.click() };
for (let number = 1; number <= 9; number += 1) act[String(number)] = () => current?.form && current.quick(number - 1);
letters(act);
window.addEventListener("take:leave", () => current?.playing && current.stop());
window.addEventListener("pagehide", () => current?.playing && current.stop());
mount();
