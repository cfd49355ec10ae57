// Where what is written and the recording part. What can be known: taps say it both ways; the loudness of the recording says
// only where nothing begins at a written note, because the band begins notes too. Where it begins them so often that chance
// would hit a written note half the time, nothing is marked, and that is said.

const TOLERANCE = 0.08; // seconds
const TAP_TOLERANCE = 0.13; // a hand is less exact
const RATE = 11025, HOP = 128;
const CHANCE = 0.5;

/** Onsets of samples in seconds: rises of energy above the usual of the half second round them. Pure. */
export function onsetsOf(samples, rate, from = 0) {
  const frames = Math.floor(samples.length / HOP), energy = new Float64Array(frames);
  for (let frame = 0; frame < frames; frame += 1) {
    let sum = 0;
    for (let i = frame * HOP; i < (frame + 1) * HOP; i += 1) { const change = samples[i] - (samples[i - 1] ?? 0); sum += change * change; }
    energy[frame] = Math.log(1e-9 + sum / HOP);
  }
  const rise = Array.from(energy, (value, frame) => (frame < 3 ? 0 : Math.max(0, value - Math.max(energy[frame - 2], energy[frame - 3]))));
  const wide = Math.round((0.25 * rate) / HOP), found = [];
  for (let frame = 1; frame + 1 < rise.length; frame += 1) {
    if (rise[frame] < 0.5 || rise[frame] < rise[frame - 1] || rise[frame] < rise[frame + 1]) continue;
    const near = rise.slice(Math.max(0, frame - wide), frame + wide), usual = near.reduce((a, b) => a + b, 0) / near.length;
    const second = from + (frame * HOP) / rate;
    if (rise[frame] > 2.5 * usual && (!found.length || second - found.at(-1) > 0.05)) found.push(second);
  }
  return found;
}

/** Which written notes have no onset near them, after what all are early or late by in common. Pure. */
export function alone(written, heard, tolerance) {
  const nearest = (second) => heard.reduce((best, one) => (Math.abs(one - second) < Math.abs(best - second) ? one : best), Infinity);
  const offsets = written.map((note) => nearest(note.second) - note.second).filter((gap) => Math.abs(gap) < 0.2).sort((a, b) => a - b);
  const common = offsets.length ? offsets[Math.floor(offsets.length / 2)] : 0;
  return written.filter((note) => Math.abs(nearest(note.second + common) - note.second - common) > tolerance);
}

/** How likely a moment hits an onset by chance. */
export const chance = (count, seconds, tolerance) => 1 - Math.exp((-count * 2 * tolerance) / Math.max(seconds, 0.1));

/** {bars: Map bar → {ticks, words}, words} for the bars first to last. */
export async function parts({ audio, times, first, last, taps, written }) {
  const from = times[first], to = times[last + 1], inside = taps.filter(({ at }) => at >= from - 0.1 && at < to).map(({ at }) => at);
  if (!written.length) return { bars: new Map(), words: "Nothing is written in these bars yet." };
  if (inside.length >= 3) return byTaps(written, inside, times, first, last);
  let heard;
  try { heard = await loud(audio, from, to); } catch { return { bars: new Map(), words: "The sound could not be read for comparing. Tap the notes instead." }; }
  const luck = chance(heard.length, to - from, TOLERANCE);
  if (heard.length < 3 || luck > CHANCE) return { bars: new Map(), words: heard.length < 3 ? "The recording is too even here to hear where notes begin: nothing is marked. Tap the notes to compare." : "The band begins notes too often here to tell by loudness: nothing is marked. Tap the notes to compare." };
  const lone = alone(written, heard, TOLERANCE);
  const bars = marked(lone);
  if (lone.length * 2 > written.length) return { bars: new Map(), words: "Most written notes have no clear beginning in the recording: the loudness tells too little here, so nothing is marked. Tap the notes to compare." };
  return { bars, words: bars.size ? `By loudness: ${barWords(bars.size)} where nothing begins at a written note. Notes that are missing cannot be told this way.` : "By loudness: something begins at every written note. Notes that are missing cannot be told this way." };
}

function byTaps(written, taps, times, first, last) {
  const bars = marked(alone(written, taps, TAP_TOLERANCE));
  const notes = taps.map((second) => ({ second })), missing = alone(notes, written.map((note) => note.second), TAP_TOLERANCE);
  for (const { second } of missing) {
    let bar = first;
    while (bar < last && second >= times[bar + 1]) bar += 1;
    const here = bars.get(bar) ?? { ticks: [], words: "parts" };
    bars.set(bar, { ...here, words: "parts: tapped, not written" });
  }
  return { bars, words: bars.size ? `By your taps: ${barWords(bars.size)} part.` : "By your taps: no bar parts." };
}
function marked(lone) {
  const bars = new Map();
  for (const { bar, tick } of lone) { const here = bars.get(bar) ?? { ticks: [], words: "parts" }; here.ticks.push(tick); bars.set(bar, here); }
  return bars;
}
const barWords = (count) => `${count} bar${count > 1 ? "s" : ""}`;

let kept = null;
async function loud(audio, from, to) {
  if (kept?.src !== audio.currentSrc) {
    const answer = await fetch(audio.currentSrc || audio.src);
    if (!answer.ok) throw new Error("no sound");
    const context = new OfflineAudioContext(1, 1, RATE), sound = await context.decodeAudioData(await answer.arrayBuffer());
    kept = { src: audio.currentSrc, samples: mono(sound), rate: sound.sampleRate };
  }
  const { samples, rate } = kept, begin = Math.max(0, Math.floor((from - 0.2) * rate));
  return onsetsOf(samples.subarray(begin, Math.floor((to + 0.2) * rate)), rate, begin / rate);
}
function mono(sound) {
  const first = sound.getChannelData(0);
  if (sound.numberOfChannels === 1) return first;
  const second = sound.getChannelData(1);
  return Float32Array.from(first, (value, i) => (value + second[i]) / 2);
}
