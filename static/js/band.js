// Play with the band: the plan of choruses, and where the chart stands in it. How it sounds is band-player.js.
import { planned, tempoAt } from "./band-plan.js";
import { BandPlayer } from "./band-player.js";

const box = document.querySelector("[data-band]");

class Band extends BandPlayer {
  constructor(element) {
    super(element, JSON.parse(document.querySelector("#band-setting").textContent));
    this.plan = [{ key: "", tempo: null, silent: null }];
    this.open = null;
    this.shownKey = "";
    this.find("add").addEventListener("click", () => this.add());
    this.find("remove").addEventListener("click", () => this.remove());
    this.find("edit").addEventListener("submit", (event) => this.close(event));
    this.find("edit").addEventListener("change", () => this.edited());
    this.draw();
    this.setSwing(null);
  }

  // --- the plan ---

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

  changed(event) {
    const target = event.target;
    if (target.closest("[data-edit]")) return;
    super.changed(event);
    if (!target.matches("[data-tempo], [data-style]")) return;
    this.draw();
    for (const link of this.box.querySelectorAll("[data-file]")) this.name(link);
  }

  name(link) {
    const address = new URL(link.href);
    address.searchParams.set("style", this.find("style").value);
    link.href = address.pathname + address.search;
  }

  // --- sound ---

  tempoOf(number) {
    return tempoAt(this.plan, Math.min(number, this.plan.length - 1), this.tempo);
  }

  async fetchChorus(at) {
    const chorus = planned(this.plan, at, this.find("endless").checked);
    if (!chorus) return null;
    const address = new URL(this.box.dataset.chorus, window.location.href);
    address.searchParams.set("style", this.find("style").value);
    address.searchParams.set("seed", `${this.take}-${at}`);
    if (chorus.key) address.searchParams.set("key", chorus.key);
    return { sound: await this.get(address), chorus };
  }

  // The melody first, then the solos: at the pitch of the key that the chorus is in, no further than half an octave off.
  above(number, chorus) {
    const asked = this.box.querySelector("[data-melody]");
    if (number || !asked?.checked) return [];
    const up = this.key(chorus.key).up;
    return (this.setting.melody ?? []).map(([time, length, pitch]) => [time, length, pitch + up]);
  }

  show({ bar, number, chorus, key }) {
    if (key !== this.shownKey) this.showKey(key);
    for (const old of document.querySelectorAll("#band-chart .bar.is-now")) old.classList.remove("is-now");
    const shown = document.querySelector(`#band-chart .bar[data-played~="${number}"]`);
    shown?.classList.add("is-now");
    if (shown && this.box.classList.contains("is-folded")) shown.scrollIntoView({ block: "nearest" });
    if (bar === 0 || bar % 4 === 0) this.say(`Chorus ${chorus + 1}, ${number ? `from bar ${number}` : "pickup"}`);
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
}

if (box) {
  const band = new Band(box);
  window.addEventListener("pagehide", () => band.playing && band.stop());
}
