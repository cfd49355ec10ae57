// The changes at a keyboard, chord by chord: free, going on when a chord is right, or in time with the band. What was played
// is judged by the server, where the rules are; the page shows what it says.
import { BandPlayer } from "./band-player.js";
import { KeysBoard } from "./keys-board.js";
import { newId } from "./takes/ids.js";

const box = document.querySelector("[data-keyboard]");
const EARLY = 0.5; // crotchets that a chord may come before its beat and still be meant for it

class Keyboard extends BandPlayer {
  constructor(element) {
    super(element, JSON.parse(document.querySelector("#band-setting").textContent));
    this.chords = this.setting.chords;
    this.at = 0;
    this.inTime = false; // whether what was played was played with the band to the end of a chorus
    this.best = new Map(); // event → {notes, credit}
    this.board = new KeysBoard(document.querySelector("[data-keys-board]"), { onChord: (notes, when) => this.played(notes, when) });
    this.find("next").addEventListener("click", () => this.go(this.at + 1));
    this.find("before").addEventListener("click", () => this.go(this.at - 1));
    this.find("note").addEventListener("click", () => this.note());
    this.setSwing(null);
    this.draw();
  }

  // --- the chord that is asked

  go(at) {
    this.at = Math.min(this.chords.length - 1, Math.max(0, at));
    this.draw();
  }

  draw() {
    const chord = this.chords[this.at];
    this.find("asked").innerHTML = "";
    const name = document.createElement("span");
    name.textContent = chord.text;
    name.setAttribute("aria-hidden", "true");
    const spoken = document.createElement("span");
    spoken.className = "visually-hidden";
    spoken.textContent = chord.spoken;
    const place = document.createElement("small");
    place.textContent = ` ${chord.bar ? `bar ${chord.bar}` : "pickup"}, ${this.at + 1} of ${this.chords.length}`;
    this.find("asked").append(name, spoken, place);
    for (const old of document.querySelectorAll("#band-chart .is-now, #band-chart .is-asked")) old.classList.remove("is-now", "is-asked");
    const bar = document.querySelector(`#band-chart .bar[data-played~="${chord.bar}"]`);
    bar?.classList.add("is-now");
    bar?.querySelector(`[data-event="${chord.event}"]`)?.classList.add("is-asked");
  }

  // Which chord a moment belongs to while the band plays: the one that sounds, or the next one when it comes early.
  meant(when) {
    if (!this.playing || !this.mark) return this.at;
    const since = (when - this.mark.when) / 1000 / (60 / this.tempo);
    const place = this.mark.start + since + EARLY;
    const found = this.chords.findLastIndex((chord) => chord.start <= place + 1e-6);
    return found < 0 ? this.at : found;
  }

  async played(notes, when) {
    const at = this.meant(when);
    const chord = this.chords[at];
    const address = new URL(this.box.dataset.judge, window.location.href);
    address.searchParams.set("event", chord.event);
    address.searchParams.set("notes", notes.join(","));
    if (this.setting.key) address.searchParams.set("key", this.setting.key);
    try {
      const heard = await this.get(address);
      const before = this.best.get(chord.event);
      if (!before || heard.credit >= before.credit) this.best.set(chord.event, { notes, credit: heard.credit });
      this.tell(chord, heard);
      if (heard.right && !this.playing && at === this.at) this.go(at + 1);
    } catch (error) {
      this.find("verdict").textContent = `${error.message} Play it again.`;
    }
    this.find("note").disabled = !this.best.size;
    this.find("count-words").textContent = `${this.best.size} of ${this.chords.length} chords played`;
  }

  tell(chord, heard) {
    const name = document.createElement("strong");
    name.textContent = `${chord.text}: ${heard.name}.`;
    this.find("verdict").replaceChildren(name, ` ${heard.sentence}`);
  }

  // --- the band

  async fetchChorus(at) {
    if (at > 0) return null;
    const address = new URL(this.box.dataset.chorus, window.location.href);
    address.searchParams.set("style", this.find("style").value);
    address.searchParams.set("seed", this.take);
    if (this.setting.key) address.searchParams.set("key", this.setting.key);
    return { sound: await this.get(address), chorus: { key: "", silent: null } };
  }

  async start() {
    this.best.clear();
    this.mark = null;
    this.inTime = false;
    this.go(0);
    await super.start();
  }

  show({ bar, number, time }) {
    // Where the form stands on the page's own clock: sound that is scheduled for `time` is heard then.
    const late = (this.context.currentTime - time) * 1000;
    this.mark = { when: performance.now() - late, start: this.starts[bar] };
    const at = this.chords.findIndex((chord) => chord.start >= this.mark.start - 1e-6);
    if (at >= 0) this.go(at);
    if (bar % 4 === 0) this.say(number ? `Bar ${number}` : "Pickup");
  }

  append(state, found, number) {
    this.starts = found.sound.bars.map((bar) => bar[1]);
    super.append(state, found, number);
  }

  stop(words = "") {
    this.inTime ||= words === "The end.";
    super.stop(words === "The end." ? "The end. See what you played, or play it again." : words);
    this.mark = null;
  }

  // --- noting it

  note() {
    const form = document.querySelector("[data-noted]");
    const rows = [...this.best].map(([event, { notes }]) => [event, notes]);
    form.querySelector("[name=played]").value = JSON.stringify(rows);
    form.querySelector("[name=tempo]").value = String(this.tempo);
    form.querySelector("[name=token]").value = newId();
    form.querySelector("[name=in_time]").value = this.inTime ? "on" : "";
    form.submit();
  }
}

if (box) {
  const keyboard = new Keyboard(box);
  window.addEventListener("pagehide", () => keyboard.playing && keyboard.stop());
}
