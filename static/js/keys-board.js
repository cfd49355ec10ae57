// Keys on the page and a MIDI keyboard, both heard as chords: `onChord(notes)` when a handful of keys has been played.
// A MIDI keyboard is asked for only when its button is pressed. Nothing here judges anything.
import { prepare } from "./sampler.js";
import { voices } from "./synth.js";

const TOGETHER = 140; // milliseconds in which the keys of one chord may arrive
const NAMES = ["C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B"];

export class KeysBoard {
  constructor(box, { onChord }) {
    this.box = box;
    this.onChord = onChord;
    this.pressed = new Set(); // keys on the page
    this.held = new Set(); // keys of the MIDI keyboard
    this.keys = [...box.querySelectorAll("[data-key-number]")];
    box.hidden = false;
    this.keys.forEach((key, at) => this.prepare(key, at));
    this.find("keys-done").addEventListener("click", () => this.done());
    this.find("keys-clear").addEventListener("click", () => this.clear());
    this.offerMidi();
  }

  find(name) {
    return this.box.querySelector(`[data-${name}]`);
  }

  say(words) {
    this.find("keys-said").textContent = words;
  }

  prepare(key, at) {
    const midi = Number(key.dataset.keyNumber);
    key.setAttribute("aria-label", `${NAMES[midi % 12]} ${Math.floor(midi / 12) - 1}`);
    key.tabIndex = at === 12 ? 0 : -1;
    key.addEventListener("click", () => this.toggle(key, midi));
    key.addEventListener("keydown", (event) => {
      const to = { ArrowRight: this.keys[at + 1], ArrowLeft: this.keys[at - 1], Home: this.keys[0], End: this.keys.at(-1) }[event.key];
      if (event.key === "Enter") {
        event.preventDefault();
        this.done();
      }
      if (!to) return;
      event.preventDefault();
      key.tabIndex = -1;
      to.tabIndex = 0;
      to.focus();
    });
  }

  toggle(key, midi) {
    const down = !this.pressed.delete(midi);
    if (down) this.pressed.add(midi);
    key.setAttribute("aria-pressed", String(down));
    if (down) this.sound(midi);
  }

  sound(midi) {
    if (!this.find("keys-sound").checked) return;
    if (!this.context) {
      this.context = new AudioContext();
      prepare(this.context); // until the samples are there, the page makes the tone itself
    }
    this.context.resume();
    voices.shells(this.context, this.context.destination, midi, this.context.currentTime + 0.01, 0.8);
  }

  done() {
    const notes = [...this.pressed].sort((a, b) => a - b);
    if (!notes.length) {
      this.say("Press the keys of the chord first.");
      return;
    }
    this.clear();
    this.onChord(notes, performance.now());
  }

  clear() {
    this.pressed.clear();
    for (const key of this.keys) key.setAttribute("aria-pressed", "false");
  }

  // --- MIDI

  offerMidi() {
    const button = this.find("midi");
    if (!navigator.requestMIDIAccess) return;
    button.hidden = false;
    button.addEventListener("click", () => this.connect(button));
  }

  async connect(button) {
    try {
      const access = await navigator.requestMIDIAccess();
      const attach = () => {
        const inputs = [...access.inputs.values()];
        for (const input of inputs) input.onmidimessage = (message) => this.message(message.data);
        this.say(inputs.length ? `Listening to ${inputs.map((input) => input.name).join(", ")}.` : "No MIDI keyboard is connected. Plug one in; it is found by itself.");
        button.hidden = inputs.length > 0;
      };
      access.onstatechange = attach;
      attach();
    } catch {
      this.say("The browser gave no MIDI keyboard. The keys below do the same.");
    }
  }

  /** @param {Iterable<number>} bytes */
  message([kind, note, force]) {
    const on = (kind & 0xf0) === 0x90 && force > 0;
    const off = (kind & 0xf0) === 0x80 || ((kind & 0xf0) === 0x90 && force === 0);
    if (on) {
      if (!this.held.size) this.began = performance.now();
      this.held.add(note);
      this.sound(note);
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.take(), TOGETHER);
    } else if (off) {
      if (this.timer) this.take();
      this.held.delete(note);
    }
  }

  // What is held is one chord; keys that are added later make it another.
  take() {
    clearTimeout(this.timer);
    this.timer = null;
    if (this.held.size) this.onChord([...this.held].sort((a, b) => a - b), this.began);
  }
}
