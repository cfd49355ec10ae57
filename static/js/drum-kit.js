// Drums: strokes of the project's own samples once they are there, until then noise through filters and falling tones.
import { stroke } from "./sampler.js";

const LEVELS = { kick: 0.6, stick: 0.4, snare: 0.55, brush: 0.85, hat: 0.28, foot: 0.3, crash: 0.5, ride: 0.38 };

let noise = null;

// One second of noise, the same every time (a linear congruential row), so that renderings can be compared.
function noiseOf(context) {
  if (noise && noise.sampleRate === context.sampleRate) return noise;
  noise = context.createBuffer(1, context.sampleRate, context.sampleRate);
  const data = noise.getChannelData(0);
  let state = 12345;
  for (let i = 0; i < data.length; i += 1) {
    state = (1664525 * state + 1013904223) >>> 0;
    data[i] = state / 2147483648 - 1;
  }
  return noise;
}

function hiss(context, out, at, { type, frequency, q = 0.7, level, decay, attack = 0.001 }) {
  const source = context.createBufferSource();
  source.buffer = noiseOf(context);
  source.loop = true;
  const filter = context.createBiquadFilter();
  filter.type = type;
  filter.frequency.value = frequency;
  filter.Q.value = q;
  const gain = context.createGain();
  gain.gain.setValueAtTime(0.0001, at);
  gain.gain.linearRampToValueAtTime(level, at + attack);
  gain.gain.setTargetAtTime(0.0001, at + attack, decay / 3);
  source.connect(filter).connect(gain).connect(out);
  source.start(at, (at * 7.31) % 0.9);
  source.stop(at + attack + decay * 2.2);
}

function fall(context, out, at, { from, to, level, decay }) {
  const source = context.createOscillator();
  source.frequency.setValueAtTime(from, at);
  source.frequency.exponentialRampToValueAtTime(to, at + decay * 0.5);
  const gain = context.createGain();
  gain.gain.setValueAtTime(level, at);
  gain.gain.setTargetAtTime(0.0001, at + 0.005, decay / 4);
  source.connect(gain).connect(out);
  source.start(at);
  source.stop(at + decay * 1.6);
}

// The ring of a cymbal: a few square waves that fit no scale, only their upper part let through.
function ring(context, out, at, level, decay) {
  const filter = context.createBiquadFilter();
  filter.type = "highpass";
  filter.frequency.value = 5200;
  const gain = context.createGain();
  gain.gain.setValueAtTime(level, at);
  gain.gain.setTargetAtTime(0.0001, at + 0.01, decay / 3);
  filter.connect(gain).connect(out);
  for (const frequency of [523, 659.7, 811, 1017.3]) {
    const source = context.createOscillator();
    source.type = "square";
    source.frequency.value = frequency;
    source.connect(filter);
    source.start(at);
    source.stop(at + decay * 2);
  }
}

export function strike(context, out, what, level, at) {
  if (stroke(context, out, what, LEVELS[what] * level ** 1.3, at)) return;
  if (what === "kick") fall(context, out, at, { from: 110, to: 46, level: 0.5 * level, decay: 0.22 });
  else if (what === "snare") {
    hiss(context, out, at, { type: "bandpass", frequency: 2300, level: 0.22 * level, decay: 0.16 });
    fall(context, out, at, { from: 215, to: 170, level: 0.14 * level, decay: 0.1 });
  } else if (what === "brush") hiss(context, out, at, { type: "bandpass", frequency: 3200, q: 0.5, level: 0.1 * level, decay: 0.3, attack: 0.05 });
  else if (what === "stick") hiss(context, out, at, { type: "bandpass", frequency: 1750, q: 6, level: 0.5 * level, decay: 0.05 });
  else if (what === "hat") hiss(context, out, at, { type: "highpass", frequency: 7000, level: 0.09 * level, decay: 0.06 });
  else if (what === "foot") hiss(context, out, at, { type: "highpass", frequency: 5200, level: 0.08 * level, decay: 0.09 });
  else if (what === "crash") {
    hiss(context, out, at, { type: "highpass", frequency: 4200, level: 0.1 * level, decay: 1.1 });
    ring(context, out, at, 0.02 * level, 1.2);
  } else {
    hiss(context, out, at, { type: "highpass", frequency: 7600, level: 0.035 * level, decay: 0.3 });
    ring(context, out, at, 0.028 * level, 0.42);
  }
}
