// A few bars of the band, played once and at once.
import { swingAt, timeline } from "./band-plan.js";
import { openDesk } from "./desk.js";
import { strike } from "./drum-kit.js";
import { prepare } from "./sampler.js";
import { voices } from "./synth.js";

const LEAD = 0.12; // seconds until the first note

export class Once {
  constructor() {
    this.context = null;
    this.out = null;
  }

  // Plays `sound` (as the server gives a chorus) and answers how many seconds it lasts.
  async play(sound, { tempo, swings }) {
    this.context ??= new AudioContext();
    await this.context.resume();
    await prepare(this.context);
    this.stop();
    const { gains, volume } = openDesk(this.context, ["bass", "piano", "drums"]);
    this.out = volume;
    const swing = swingAt(tempo, swings, null, sound.swing);
    const made = timeline(sound, { tempo, swing, silent: null, clicks: [] });
    const begin = this.context.currentTime + LEAD;
    for (const event of made.list) this.sound(gains[event.part], event, begin + event.time);
    return LEAD + made.length;
  }

  sound(out, event, at) {
    if (event.part === "drums") strike(this.context, out, event.what, event.level, at);
    else if (event.part === "piano") for (const pitch of event.pitches) voices.shells(this.context, out, pitch, at, event.length);
    else if (event.part === "bass") voices.bass(this.context, out, event.pitch, at, event.length);
  }

  stop() {
    this.out?.disconnect();
    this.out = null;
  }
}
