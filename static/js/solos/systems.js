// The staves of a page: systems of four bars on a desk, two on a phone, each drawn when it comes near or changes.

import { drawSystem } from "./staff.js";

const NARROW = window.matchMedia("(max-width: 40rem)");

export class Systems {
  onDrawn; box; data; notes; rows; words;

  /** `bars`: those of the form; `notes(index)` their entries; `rows(places, frame)` what a page lays below. */
  constructor({ box, data, notes, rows, words = undefined, onPress = undefined }) {
    Object.assign(this, { box, data, notes, rows, words });
    this.bars = data.bars.map((bar, index) => ({ ...bar, index }));
    this.near = new IntersectionObserver((seen) => { for (const one of seen) if (one.isIntersecting) this.draw(Number(one.target.dataset.system)); }, { rootMargin: "600px" });
    this.build();
    NARROW.addEventListener("change", () => this.build());
    let width = box.clientWidth;
    new ResizeObserver(() => { if (Math.abs(box.clientWidth - width) > 2) { width = box.clientWidth; this.build(); } }).observe(box);
    if (onPress) box.addEventListener("click", (event) => this.press(event, onPress));
  }

  /** The systems over again, for another width or other bars. `range` [first, last] shows only those bars. */
  build(range = this.range) {
    this.range = range;
    this.perSystem = NARROW.matches ? 2 : 4;
    this.near.disconnect();
    const [first, last] = range ?? [0, this.bars.length - 1];
    this.groups = [];
    for (let at = first; at <= last;) {
      const group = [];
      while (at <= last && group.length < this.perSystem && (!group.length || this.bars[at].chorus === group[0].chorus)) { group.push(this.bars[at]); at += 1; }
      this.groups.push(group);
    }
    this.drawn = new Map();
    this.box.replaceChildren(...this.groups.map((group, index) => {
      const made = document.createElement("div");
      made.className = "system";
      made.dataset.system = index;
      if (index && group[0].chorus !== this.groups[index - 1].at(-1).chorus) made.dataset.chorus = `Chorus ${group[0].chorus}`;
      this.near.observe(made);
      return made;
    }));
  }

  systemOf(bar) { return this.groups.findIndex((group) => group.some((one) => one.index === bar)); }
  draw(index, again = false) {
    const place = this.box.children[index];
    if (!place || (this.drawn.has(index) && !again)) return;
    const bars = this.groups[index], { data } = this;
    const narrow = this.perSystem === 2, width = Math.max(280, this.box.clientWidth);
    const before = this.bars[bars[0].index - 1];
    const metre = index === 0 || !before || before.metre[0] !== bars[0].metre[0] || before.metre[1] !== bars[0].metre[1] ? bars[0].metre : null;
    const made = drawSystem({
      bars, notes: bars.map((bar) => this.notes(bar.index)), width, size: narrow ? 7.7 : 9.4, perSystem: this.perSystem, fifths: data.fifths, clef: data.clef,
      metre, last: bars.at(-1).index === this.bars.length - 1, before: before ? this.notes(before.index) : [],
      chordSize: narrow ? 17 : 20, below: this.rows ? (places, frame) => this.rows(places, frame, bars) : null,
    });
    this.drawn.set(index, made);
    place.innerHTML = `<svg class="solo-staff" viewBox="0 0 ${width} ${Math.ceil(made.height)}" width="${width}" height="${Math.ceil(made.height)}" ${this.words ? `role="img" aria-label="${this.words(bars)}"` : 'aria-hidden="true"'} focusable="false">${made.svg}</svg>`;
    this.onDrawn?.(index, place);
  }
  drawBar(bar) { const index = this.systemOf(bar); if (index >= 0) this.draw(index, true); return index; }
  drawAll() { for (const index of this.drawn.keys()) this.draw(index, true); }
  svgBar(bar) { return this.box.querySelector(`.solo-bar[data-bar="${bar}"]`); }

  /** Which bar, and which entry of it, a press on the staves means. */
  press(event, act) {
    const place = event.target.closest(".system"), svg = place?.querySelector("svg"), made = this.drawn.get(Number(place?.dataset.system));
    if (!svg || !made) return;
    const box = svg.getBoundingClientRect(), x = (event.clientX - box.left) * (svg.viewBox.baseVal.width / box.width);
    const bar = made.places.find((one) => x < one.x1) ?? made.places.at(-1);
    const size = this.perSystem === 2 ? 7.7 : 9.4;
    let best = bar.xs.length, far = Math.abs(bar.end + size * 0.6 - x);
    bar.xs.forEach((at, i) => { if (Math.abs(at + size * 0.6 - x) < far) { best = i; far = Math.abs(at + size * 0.6 - x); } });
    act(bar.index, best);
  }
}
