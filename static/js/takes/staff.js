// The form of a take on the page: a cell a bar with its piece of the waveform and its comments, standing on the engraved
// systems or inside the bars of the drawn chart.

import { along, knots } from "./along.js";

const NS = "http://www.w3.org/2000/svg";

function make(tag, className, parent) {
  const one = document.createElement(tag);
  if (className) one.className = className;
  parent?.append(one);
  return one;
}

// One engraved picture cut into its systems, so that something can stand above each.
function systems(staff) {
  const whole = staff.querySelector("svg.engraving");
  if (!whole) return [];
  const [, , width, height] = whole.getAttribute("viewBox").split(" ").map(Number);
  const frame = whole.getBoundingClientRect();
  if (!frame.width) return [];
  const scale = width / frame.width;
  const found = [...whole.querySelectorAll("g.system")].map((group) => {
    const box = group.getBoundingClientRect();
    const measures = [...group.querySelectorAll(".measure[data-bar]")].map((measure) => {
      const place = measure.getBoundingClientRect();
      const share = (one) => (one.getBoundingClientRect().left - frame.left) / frame.width;
      const heads = [...new Set([...measure.querySelectorAll(".note")].map((one) => Math.round(share(one) * 1000) / 1000))].sort((a, b) => a - b);
      const signs = [...measure.querySelectorAll(".note, .rest, .mRest")].map(share);
      return {
        bar: Number(measure.dataset.bar), left: (place.left - frame.left) / frame.width, width: place.width / frame.width,
        heads, first: signs.length ? Math.min(...signs) : undefined,
      };
    });
    return { top: (box.top - frame.top) * scale, height: box.height * scale, measures };
  });
  return found.map((one, index) => {
    const picture = whole.cloneNode(true);
    picture.querySelectorAll("g.system").forEach((group, at) => at !== index && group.remove());
    picture.setAttribute("viewBox", `0 ${one.top - 6 * scale} ${width} ${one.height + 12 * scale}`);
    picture.removeAttribute("height");
    const inner = picture.querySelector("svg"); // in the size of the whole, of which a strip is seen
    if (inner) for (const [name, value] of [["width", width], ["height", height]]) inner.setAttribute(name, value);
    if (index) {
      picture.setAttribute("aria-hidden", "true"); // the first one bears the title of the whole
      picture.removeAttribute("aria-labelledby");
    }
    return { ...one, picture };
  });
}

function wave(peaks, perSecond, from, to) {
  const first = Math.floor(from * perSecond);
  const last = Math.max(first + 1, Math.ceil(to * perSecond));
  const found = peaks.slice(Math.max(0, first), last);
  if (!found.length) return "";
  const step = 100 / found.length;
  const half = (peak) => Math.max(0.6, Math.sqrt(peak / 99) * 19);
  const top = found.map((peak, at) => `${(at * step).toFixed(1)},${(20 - half(peak)).toFixed(1)} ${((at + 1) * step).toFixed(1)},${(20 - half(peak)).toFixed(1)}`);
  const low = found.map((peak, at) => `${((at + 1) * step).toFixed(1)},${(20 + half(peak)).toFixed(1)} ${(at * step).toFixed(1)},${(20 + half(peak)).toFixed(1)}`).reverse();
  return [...top, ...low].join(" ");
}

export class Staff {
  root; data; onGo; line;

  constructor(root, data, onGo) {
    Object.assign(this, { root, data, onGo, chorus: 1, cells: [], spots: [] });
    this.build();
    this.narrow = window.matchMedia("(max-width: 40rem)");
    this.narrow.addEventListener("change", () => this.build());
  }

  build() {
    this.cells = [];
    const chart = this.root.querySelector(".take__chart, .take__plain");
    if (chart) this.onChart(chart);
    for (const staff of this.root.querySelectorAll("[data-staff]")) if (staff.offsetParent !== null) this.onStaff(staff);
    this.waves();
    this.pegs(this.comments ?? this.data.comments);
    if (this.now) this.show(this.now);
  }

  onChart(chart) {
    chart.querySelectorAll(".take__lane").forEach((lane) => lane.remove());
    [...chart.querySelectorAll(".bar")].forEach((bar, index) => {
      if (index >= this.data.bars.length) return;
      const lane = document.createElement("div");
      lane.className = "take__lane take__lane--bar";
      bar.prepend(lane);
      this.cell(index, lane, bar, 0, 1);
    });
  }

  onStaff(staff) {
    if (!staff.dataset.cut) {
      const found = systems(staff);
      if (!found.length) return;
      staff.dataset.cut = "1";
      staff.replaceChildren(...found.map((system) => {
        const box = make("div", "take__system");
        const lane = make("div", "take__lane", box);
        lane.places = system.measures;
        box.append(system.picture);
        return box;
      }));
    }
    for (const lane of staff.querySelectorAll(".take__lane")) {
      lane.replaceChildren();
      for (const place of lane.places) if (place.bar < this.data.bars.length) this.cell(place.bar, lane, lane.parentElement, place.left, place.width, place);
    }
  }

  cell(index, lane, system, left, width, measure = { left, width }) {
    const button = make("button", "take__cell", lane);
    button.type = "button";
    button.tabIndex = -1;
    button.dataset.cell = index;
    button.style.setProperty("--left", left);
    button.style.setProperty("--wide", width);
    const number = this.data.bars[index][0];
    button.setAttribute("aria-label", `Play from ${number ? `bar ${number}` : "the pickup"}`);
    const picture = document.createElementNS(NS, "svg");
    picture.setAttribute("viewBox", "0 0 100 40");
    picture.setAttribute("preserveAspectRatio", "none");
    picture.setAttribute("aria-hidden", "true");
    picture.append(document.createElementNS(NS, "polygon"), document.createElementNS(NS, "polygon"));
    button.append(picture);
    const label = make("span", "take__bar-number", button);
    label.textContent = number || "pickup";
    label.ariaHidden = "true";
    button.addEventListener("click", () => this.onGo({ chorus: this.chorus, bar: index, beat: 0 }));
    const [, start, length] = this.data.bars[index];
    const pairs = knots(start, length, this.data.notes ?? [], measure);
    this.cells[index] = { button, lane, system, left, width, pairs, polygons: picture.querySelectorAll("polygon") };
  }

  waves() {
    const { times, peaks, per_second: rate, other } = this.data;
    const beside = other?.peaks?.length ? other : null;
    this.root.classList.toggle("take--two", Boolean(beside));
    for (const [index, cell] of this.cells.entries()) {
      if (!cell) continue;
      const row = times[this.chorus - 1];
      cell.polygons[0].setAttribute("points", row ? wave(peaks, rate, row[index], row[index + 1]) : "");
      const then = beside?.times[Math.min(this.chorus, beside.times.length) - 1];
      cell.polygons[1].setAttribute("points", then ? wave(beside.peaks, rate, then[index], then[index + 1]) : "");
      cell.polygons[1].classList.add("take__then");
    }
  }

  pegs(comments) {
    this.comments = comments;
    this.root.querySelectorAll(".take__peg").forEach((peg) => peg.remove());
    for (const one of comments) {
      const cell = this.cells[one.bar];
      if (!cell || one.chorus !== this.chorus) continue;
      const peg = make("a", "take__peg", cell.lane);
      peg.href = `#comment-${one.pk}`;
      peg.tabIndex = -1;
      peg.ariaHidden = "true";
      peg.textContent = one.number;
      peg.style.setProperty("--left", along(cell.pairs, one.beat));
    }
  }

  turn(chorus) {
    if (chorus === this.chorus) return;
    this.chorus = chorus;
    this.waves();
    this.pegs(this.comments);
    const choice = this.root.querySelector("[data-chorus]");
    if (choice) choice.value = String(chorus);
  }

  // The place that sounds: its bar washed, a line through it.
  show(spot) {
    this.now = spot;
    this.turn(spot.chorus);
    const cell = this.cells[spot.bar];
    if (!cell) return;
    if (this.shown !== cell) {
      this.root.querySelectorAll(".take__cell.is-now, .bar.is-now, .measure.is-now").forEach((one) => one.classList.remove("is-now"));
      cell.button.classList.add("is-now");
      if (cell.system.classList.contains("bar")) cell.system.classList.add("is-now");
      cell.system.querySelector(`.measure[data-bar="${spot.bar}"]`)?.classList.add("is-now");
      if (this.shown?.system !== cell.system) cell.system.scrollIntoView({ block: "nearest" });
      this.shown = cell;
      this.line ??= make("div", "take__line");
      cell.lane.append(this.line);
    }
    this.line.style.setProperty("--left", along(cell.pairs, spot.beat));
  }
}
