// The other band: choruses of one round, one of which goes another way. What the page knows is what sounds, no chord of it;
// when the band has ended, the questions open.
import { BandPlayer } from "./band-player.js";

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
