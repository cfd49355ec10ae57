// The band's instruments: samples of this project's own making (drills/sounding), one file, fetched when something first sounds.
// Until it is there, or where it cannot be had, synth.js and drum-kit.js make their own sounds.
import { FILE, SAMPLES } from "./band-samples.js";

const WAIT = 2500; // milliseconds that a first start waits for the file
const LATE = 0.004; // seconds of fading in a note that begins after its time
const kept = new WeakMap(); // a context's decoded samples
let fetched = null; // the file, once for the page

// Resolves when a context has its samples, at the latest after WAIT: sound begins then in any case.
export function prepare(context) {
  if (kept.has(context)) return Promise.resolve();
  fetched ??= fetch(new URL(FILE, import.meta.url)).then((answer) => {
    if (!answer.ok) throw new Error(String(answer.status));
    return answer.arrayBuffer();
  });
  const ready = fetched.then((data) => context.decodeAudioData(data.slice(0))).then(
    (buffer) => kept.set(context, buffer),
    () => (fetched = null), // no connection, or a browser that cannot read it: asked for again with the next start
  );
  return Promise.race([ready, new Promise((done) => setTimeout(done, WAIT))]);
}

function play(context, out, [, offset, length, gain], { at, rate, level, attack = 0, ends, release }) {
  const source = context.createBufferSource();
  source.buffer = kept.get(context);
  source.playbackRate.value = rate;
  const shape = context.createGain();
  const full = gain * level;
  if (attack) {
    shape.gain.setValueAtTime(0, at);
    shape.gain.linearRampToValueAtTime(full, at + attack);
  } else shape.gain.setValueAtTime(full, at);
  source.connect(shape).connect(out);
  source.start(at, offset, length);
  if (ends !== null && ends < length / rate) {
    shape.gain.setValueAtTime(full, at + Math.max(ends, attack));
    shape.gain.setTargetAtTime(0, at + Math.max(ends, attack), release / 4);
    source.stop(at + Math.max(ends, attack) + release * 1.6);
  }
  return source;
}

// A note of "bass" or "piano" for so many seconds; null while there are no samples, or none near it.
export function note(context, out, kind, pitch, at, length, { level, release }) {
  if (!kept.has(context)) return null;
  const sample = SAMPLES[kind].reduce((best, one) => (Math.abs(one[0] - pitch) < Math.abs(best[0] - pitch) ? one : best));
  if (Math.abs(sample[0] - pitch) > 7) return null;
  return play(context, out, sample, { at, rate: 2 ** ((pitch - sample[0]) / 12), level, attack: LATE / 2, ends: length, release });
}

const turns = {}; // which of two strokes comes next

// A stroke of the drums; null while there are no samples.
export function stroke(context, out, what, level, at) {
  const ways = SAMPLES[what];
  if (!ways || !kept.has(context)) return null;
  turns[what] = ((turns[what] ?? -1) + 1) % ways.length;
  return play(context, out, ways[turns[what]], { at, rate: 1, level, ends: null, release: 0 });
}
