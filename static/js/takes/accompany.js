// What sounds in the headphones while a take is recorded: the band, bass and chords, a click, or nothing after the count-in.
import { swingAt, timeline } from "../band-plan.js";
import { openDesk } from "../desk.js";
import { strike } from "../drum-kit.js";
import { beatsOf, swung as swungPlainly } from "../schedule.js";
import { voices } from "../synth.js";

const AHEAD = 0.3; // seconds scheduled in advance
const EVERY = 60; // milliseconds between looks

export function chorusLength(bars) {
  const last = bars[bars.length - 1];
  return last[1] + last[2];
}

// Times of the clicks of a count-in of so many bars, in crotchets: a whole bar, a pickup is none.
export function countIn(bars, count) {
  const bar = bars.find((one) => one[2] === Math.max(...bars.map((each) => each[2])));
  const beats = beatsOf(bar).map(([time, accent]) => [time - bar[1], accent]);
  const list = [];
  for (let lap = 0; lap < count; lap += 1) for (const [time, accent] of beats) list.push({ part: "click", time: lap * bar[2] + time, accent });
  return { list, length: count * bar[2] };
}

// Everything of all choruses in seconds from the first beat. Fetches the band, a chorus after the other.
export async function score(data, { what, tempo, choruses, take }) {
  const second = 60 / tempo;
  const length = chorusLength(data.bars) * second;
  const swing = swingAt(tempo, data.swings ?? {}, null, Boolean(data.swings));
  const found = [];
  for (let chorus = 0; chorus < choruses; chorus += 1) {
    const from = chorus * length;
    for (const event of await chorusOf(data, { what, tempo, swing, take, chorus })) found.push({ ...event, time: from + event.time });
  }
  found.sort((a, b) => a.time - b.time);
  return { list: found, length: length * choruses, swing: what === "band" ? Math.max(1, swing) : 1 };
}

async function chorusOf(data, { what, tempo, swing, take, chorus }) {
  const second = 60 / tempo;
  if (what === "band") {
    const sound = data.playing ?? (await fetched(data.band, `${take}-${chorus}`));
    return timeline(sound, { tempo, swing: sound.swing ? swing : 1, silent: null, clicks: [] }).list.filter((event) => event.part !== "bar");
  }
  const list = [];
  if (what === "click" || what === "changes") {
    for (const bar of data.bars) for (const [time, accent] of beatsOf(bar)) list.push({ part: "click", time: time * second, accent });
  }
  if (what === "changes") {
    for (const [time, length, bass, ...shell] of data.chords) {
      const at = swungPlainly(time, false) * second;
      list.push({ part: "bass", time: at, length: length * second, pitch: bass }, { part: "piano", time: at, length: length * second, pitches: shell });
    }
  }
  return list;
}

async function fetched(band, seed) {
  const address = new URL(band, window.location.href);
  address.searchParams.set("seed", seed);
  const answer = await fetch(address, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error("The band could not be fetched. Choose a click, or try again.");
  return answer.json();
}

export class Accompaniment {
  at; list; begin; context; gains; volume;

  constructor(context, list, begin) {
    Object.assign(this, { context, list, begin, at: 0 });
    const { gains, volume } = openDesk(context, ["bass", "piano", "drums", "click"]);
    Object.assign(this, { gains, volume });
    this.timer = setInterval(() => this.look(), EVERY);
    this.look();
  }

  look() {
    while (this.at < this.list.length && this.begin + this.list[this.at].time <= this.context.currentTime + AHEAD) this.sound(this.list[this.at++]);
  }

  sound(event) {
    const at = Math.max(this.begin + event.time, this.context.currentTime);
    const out = this.gains[event.part];
    if (event.part === "click") voices.click(this.context, out, event.accent, at);
    else if (event.part === "drums") strike(this.context, out, event.what, event.level, at);
    else if (event.part === "piano") for (const pitch of event.pitches) voices.shells(this.context, out, pitch, at, event.length);
    else if (event.part === "bass") voices.bass(this.context, out, event.pitch, at, event.length);
  }

  stop() {
    clearInterval(this.timer);
    this.volume.disconnect();
  }
}
