// The recording of a solo, and what was written, to hear: bars looped at any speed with the pitch kept, a count-in, and
// the written notes after the recording, with it, or alone.

import { swung } from "../schedule.js";
import { prepare } from "../sampler.js";
import { voices } from "../synth.js";
import { QUARTER, sounding } from "./score.js";

const LOOK = 40, AHEAD = 0.2;

export class Hearing {
  audio; data; context; onFail; onBar; onTime; bars; onStop;

  /** `data` as in tunes/solos/page.py; `bars()` the notes as printed; `onBar(index)` as bars begin to sound, null at the end. */
  constructor({ audio, data, bars, onBar, onStop, onFail }) {
    Object.assign(this, { audio, data, bars, onBar, onStop, onFail });
    this.starts = [];
    let at = 0;
    for (const bar of data.bars) { this.starts.push(at); at += bar.length; }
    this.speed = 1;
    this.mine = "silent";
    this.countIn = true;
    this.swing = true;
    this.on = false;
    if (audio) audio.preservesPitch = true;
  }

  get mapped() { return Boolean(this.audio) && this.data.times.length > 1; }
  /** Seconds that a bar lasts, as heard now. */
  barSeconds(bar) {
    const { times, tempo, bars } = this.data;
    if (this.mapped && bar + 1 < times.length) return (times[bar + 1] - times[bar]) / this.speed;
    return (bars[bar].length / QUARTER) * (60 / tempo) / this.speed;
  }

  async ready() {
    this.context ??= new AudioContext();
    await this.context.resume();
    await prepare(this.context);
    this.out?.disconnect();
    this.out = this.context.createGain();
    this.out.gain.value = 0.8;
    this.out.connect(this.context.destination);
  }

  /** Plays bars first to last again and again (or once); `alone`: only what was written, over bass and chords. */
  async play(first, last, { alone = false, again = true } = {}) {
    this.stop(false);
    try { await this.ready(); } catch { this.onFail("The sound could not be started. Press once more."); return; }
    this.on = true;
    this.span = { first, last, alone: alone || !this.mapped, again };
    this.round();
  }

  round() {
    const { first, alone } = this.span;
    const lead = this.countIn ? this.clicks(first) : 0.05;
    if (alone) this.synth(this.context.currentTime + lead, true);
    else this.record(lead);
  }

  clicks(bar) {
    const [beats] = this.data.bars[bar].metre, each = this.barSeconds(bar) / beats, begin = this.context.currentTime + 0.08;
    for (let beat = 0; beat < beats; beat += 1) voices.click(this.context, this.out, beat === 0, begin + beat * each);
    return 0.08 + beats * each;
  }

  record(lead) {
    const { audio, data, span } = this, from = data.times[span.first], to = data.times[span.last + 1] ?? audio.duration;
    audio.pause();
    audio.currentTime = from;
    audio.playbackRate = this.speed;
    this.timer = setTimeout(async () => {
      try { await audio.play(); } catch { this.stop(); this.onFail("The sound could not be played here. Reload the page."); return; }
      if (this.mine === "with") this.synth(this.context.currentTime + Math.max(0, (from - audio.currentTime) / this.speed), false, true);
      let shown = -1;
      this.watch = setInterval(() => {
        const now = audio.currentTime;
        let bar = span.first;
        while (bar < span.last && now >= data.times[bar + 1] - 0.02) bar += 1;
        if (bar !== shown) { shown = bar; this.onBar(bar); }
        this.onTime?.(now);
        if (now < to - 0.015 && !audio.ended) return;
        clearInterval(this.watch);
        audio.pause();
        if (this.mine === "after") this.synth(this.context.currentTime + 0.15, false);
        else this.turn();
      }, LOOK);
    }, lead * 1000);
  }

  /** The written notes of the span from a moment of the sound card's clock. `beside`: the recording decides when it ends. */
  synth(begin, backing, beside = false) {
    const { first, last } = this.span, { data } = this;
    const notes = sounding(this.bars(), this.starts, data.bars.map((bar) => bar.length), data.shift).filter((note) => note.bar >= first && note.bar <= last);
    const queue = [];
    let at = begin;
    for (let bar = first; bar <= last; bar += 1) {
      const seconds = this.barSeconds(bar), each = seconds / data.bars[bar].length, zero = at, start = this.starts[bar];
      const place = (tick) => zero + swung((tick - start) / QUARTER, this.swing && data.bars[bar].metre[1] === 4) * QUARTER * each;
      queue.push({ at: zero, bar });
      for (const note of notes) if (note.bar === bar) { const when = place(note.onset); queue.push({ at: when, midi: note.midi, length: Math.max(0.05, place(note.onset + note.length) - when), ghost: note.ghost }); }
      if (backing) for (const [tick, length, bass, ...shells] of data.sound[bar]) if (bass) queue.push({ at: zero + tick * each, length: length * each, bass, shells });
      at += seconds;
    }
    queue.sort((a, b) => a.at - b.at);
    const out = this.out;
    let next = 0, shown = 0;
    const bars = queue.filter((event) => event.bar !== undefined);
    const pump = setInterval(() => {
      if (!this.on || this.out !== out) { clearInterval(pump); return; }
      const now = this.context.currentTime;
      for (; next < queue.length && queue[next].at < now + AHEAD; next += 1) this.sound(queue[next], now);
      if (!beside) for (; shown < bars.length && bars[shown].at <= now; shown += 1) this.onBar(bars[shown].bar);
      if (now < at) return;
      clearInterval(pump);
      if (!beside) this.turn();
    }, LOOK);
  }
  sound(event, now) {
    const at = Math.max(now, event.at);
    if (event.midi !== undefined) voices.line(this.context, this.out, event.midi, at, event.ghost ? event.length * 0.5 : event.length);
    if (event.bass) { voices.bass(this.context, this.out, event.bass, at, event.length); for (const pitch of event.shells) voices.shells(this.context, this.out, pitch, at, event.length); }
  }

  turn() { if (this.on && this.span.again) this.round(); else this.stop(); }

  stop(tell = true) {
    clearTimeout(this.timer);
    clearInterval(this.watch);
    this.audio?.pause();
    this.out?.disconnect();
    this.out = null;
    const was = this.on;
    this.on = false;
    if (was && tell) { this.onBar(null); this.onStop(); }
  }
}
/** One written note, so that a hand hears what it wrote. */
export class Touch {
  sound(number) {
    try {
      this.context ??= new AudioContext();
      this.context.resume();
      voices.line(this.context, this.context.destination, number, this.context.currentTime, 0.25);
    } catch { this.context = null; }
  }
}
