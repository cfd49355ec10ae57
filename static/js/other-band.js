// The other band: choruses of one round, one of which goes another way. What the page knows is what sounds, no chord of it;
// when the band has ended, the questions open.
import { BandPlayer } from "./band-player.js";
import { KeysBoard } from "./keys-board.js";

const box = document.querySelector("[data-other-band]");
const TYPED = 400; // milliseconds after the last letter until the chords are read

class OtherBand extends BandPlayer {
  constructor(element) {
    super(element, JSON.parse(document.querySelector("#band-setting").textContent));
    this.waits = document.querySelector("[data-waits]");
    this.questions = document.querySelector("[data-questions]");
    this.timers = new Map();
    document.querySelector("[data-open]").addEventListener("click", () => this.ask(true));
    this.questions.addEventListener("change", (event) => this.named(event.target));
    this.questions.addEventListener("input", (event) => this.typed(event.target));
    this.questions.addEventListener("keydown", (event) => this.key(event));
    this.questions.addEventListener("focusin", ({ target }) => { if (target.matches("[data-chords], [data-guide]")) this.field = target; });
    const keys = this.questions.querySelector("[data-keys-board]");
    this.board = new KeysBoard(keys, { onChord: (notes) => this.playedIn(keys, notes) });
    this.setSwing(null);
  }

  async fetchChorus(at) {
    if (at >= this.setting.choruses) return null;
    const address = this.address(this.box.dataset.chorus);
    address.searchParams.set("style", this.find("style").value);
    address.searchParams.set("seed", `${this.take}-${at}`);
    address.searchParams.set("number", String(at + 1));
    return { sound: await this.get(address), chorus: { key: "", silent: null } };
  }

  address(path) {
    const address = new URL(path, window.location.href);
    address.searchParams.set("sheet", this.setting.sheet);
    if (this.setting.key) address.searchParams.set("key", this.setting.key);
    return address;
  }

  show({ bar, number, chorus }) {
    for (const old of document.querySelectorAll("#band-chart .bar.is-now")) old.classList.remove("is-now");
    const shown = document.querySelector(`#band-chart .bar[data-played~="${number}"]`);
    shown?.classList.add("is-now");
    if (shown && this.box.classList.contains("is-folded")) shown.scrollIntoView({ block: "nearest" });
    if (bar === 0 || bar % 4 === 0) this.say(`Chorus ${chorus + 1} of ${this.setting.choruses}, ${number ? `bar ${number}` : "pickup"}`);
  }

  stop(words = "") {
    const ended = words === "The end.";
    super.stop(ended ? "The end. What went another way?" : words);
    if (ended) this.ask(false);
  }

  // --- the questions ---

  ask(focus) {
    this.waits.hidden = true;
    this.questions.hidden = false;
    if (focus) this.questions.querySelector("[data-bar]").focus();
  }

  named(field) {
    if (!field.matches("[data-bar]")) return;
    const row = this.questions.querySelector(`[data-said="${field.dataset.bar}"]`);
    row.hidden = !field.checked;
  }

  // Enter in a field goes on to the next one; only the button hands in.
  key(event) {
    if (event.key !== "Enter" || !event.target.matches("input")) return;
    event.preventDefault();
    const fields = [...this.questions.querySelectorAll("input:not([type=hidden]), button")].filter((one) => one.offsetParent);
    fields[fields.indexOf(event.target) + 1]?.focus();
  }

  typed(field) {
    if (!field.matches("[data-chords]")) return;
    clearTimeout(this.timers.get(field));
    this.timers.set(field, setTimeout(() => this.echo(field), TYPED));
  }

  // What was played stands as typed in the field one is in, in the player's own pitch.
  async playedIn(keys, notes) {
    if (!this.field?.offsetParent) {
      this.board.say("Name a bar first, and go into one of its fields.");
      return;
    }
    const field = this.field;
    const address = new URL(keys.dataset.chordUrl, window.location.href);
    for (const [name, value] of [["notes", notes.join(",")], ["key", keys.dataset.key], ["up", keys.dataset.up ?? "0"]]) address.searchParams.set(name, value);
    try {
      const found = await this.get(address);
      const name = field.matches("[data-guide]") ? found.note : found.chords[0];
      if (!name) {
        this.board.say("These keys have no name as a chord. Play at least its 3rd with two notes more, or type it.");
        return;
      }
      field.value = field.matches("[data-chords]") && field.value.trim() ? `${field.value.trim()} ${name}` : name;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      this.board.say(`${name} is typed. Edit it as you like.`);
    } catch {
      this.board.say("No connection: type it.");
    }
  }

  async echo(field) {
    const place = field.dataset.chords;
    const text = field.value;
    const line = this.questions.querySelector(`[data-echo-of="${place}"]`);
    const address = new URL(this.box.dataset.echo, window.location.href);
    address.searchParams.set("bar", place);
    address.searchParams.set("text", text);
    try {
      const found = await this.get(address);
      if (field.value !== text) return;
      line.textContent = found.problem || found.echo;
      line.classList.toggle("other-band__echo--problem", Boolean(found.problem));
    } catch {
      line.textContent = "No connection: not read yet. What you typed stays.";
    }
  }
}

if (box) {
  const band = new OtherBand(box);
  window.addEventListener("pagehide", () => band.playing && band.stop());
}
