// What the page plays: bass and piano from the project's own samples once they are there, until then made by the page with Web
// Audio, as the reed-like line and the click always are. There is no sound licence beyond this project's own.
import { note } from "./sampler.js";

const frequency = (midi) => 440 * 2 ** ((midi - 69) / 12);

function envelope(context, at, attack, level, length, release) {
  const gain = context.createGain();
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(level, at + attack);
  gain.gain.setTargetAtTime(level * 0.6, at + attack, 0.12);
  gain.gain.setTargetAtTime(0, at + Math.max(attack, length), release);
  return gain;
}

function tone(context, out, type, pitch, at, length, { attack, level, release, cutoff }) {
  const source = context.createOscillator();
  source.type = type;
  source.frequency.value = frequency(pitch);
  const filter = context.createBiquadFilter();
  filter.type = "lowpass";
  filter.frequency.value = cutoff;
  const gain = envelope(context, at, attack, level, length, release);
  source.connect(filter).connect(gain).connect(out);
  source.start(at);
  source.stop(at + length + release * 6);
  return source;
}

// Strengths of the partials of a reed, the second strongest (after the look of measured spectra, no single source).
const PARTIALS = [0, 0.8, 1, 0.7, 0.42, 0.3, 0.2, 0.12, 0.08, 0.05];
const waves = new WeakMap();

function waveOf(context) {
  if (!waves.has(context)) {
    const real = Float32Array.from(PARTIALS, (size, number) => size * Math.cos(0.7 * number * number));
    const imaginary = Float32Array.from(PARTIALS, (size, number) => size * Math.sin(0.7 * number * number));
    waves.set(context, context.createPeriodicWave(real, imaginary));
  }
  return waves.get(context);
}

// A reed: brighter at its beginning, a vibrato that comes late in a long note.
function reed(context, out, pitch, at, length) {
  const source = context.createOscillator();
  source.setPeriodicWave(waveOf(context));
  source.frequency.value = frequency(pitch);
  const filter = context.createBiquadFilter();
  filter.type = "lowpass";
  filter.frequency.setValueAtTime(1200, at);
  filter.frequency.linearRampToValueAtTime(3600, at + 0.03);
  filter.frequency.setTargetAtTime(2300, at + 0.03, 0.15);
  const sounds = length * 0.94;
  const gain = context.createGain();
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(0.34, at + 0.018);
  gain.gain.setTargetAtTime(0.27, at + 0.02, 0.1);
  gain.gain.setTargetAtTime(0, at + Math.max(0.02, sounds), 0.03);
  if (length > 0.6) shake(context, source, at, length);
  source.connect(filter).connect(gain).connect(out);
  source.start(at);
  source.stop(at + length + 0.25);
  return source;
}

function shake(context, source, at, length) {
  const vibrato = context.createOscillator();
  vibrato.frequency.value = 5;
  const depth = context.createGain();
  depth.gain.setValueAtTime(0, at + 0.3);
  depth.gain.linearRampToValueAtTime(9, at + 0.6); // cents
  vibrato.connect(depth).connect(source.detune);
  vibrato.start(at + 0.3);
  vibrato.stop(at + length + 0.25);
}

export const voices = {
  line: reed,
  bass: (context, out, pitch, at, length) =>
    note(context, out, "bass", pitch, at, Math.min(length * 0.97, 2), { level: 0.5, release: 0.09 }) ??
    tone(context, out, "sawtooth", pitch, at, Math.min(length, 1.6), { attack: 0.006, level: 0.26, release: 0.09, cutoff: 420 }),
  shells: (context, out, pitch, at, length) => {
    const sampled = note(context, out, "piano", pitch, at, length * 0.97, { level: 0.26, release: 0.14 });
    if (sampled) return sampled;
    // Two-operator frequency modulation, the sound of an electric piano in miniature.
    const carrier = context.createOscillator();
    const modulator = context.createOscillator();
    const depth = context.createGain();
    carrier.frequency.value = frequency(pitch);
    modulator.frequency.value = frequency(pitch) * 2;
    depth.gain.setValueAtTime(frequency(pitch) * 1.1, at);
    depth.gain.setTargetAtTime(0, at, 0.25);
    const gain = envelope(context, at, 0.005, 0.085, Math.min(length, 2.2), 0.12);
    modulator.connect(depth).connect(carrier.frequency);
    carrier.connect(gain).connect(out);
    for (const source of [carrier, modulator]) {
      source.start(at);
      source.stop(at + length + 1);
    }
    return carrier;
  },
  click: (context, out, accent, at) => {
    const source = context.createOscillator();
    source.type = "square";
    source.frequency.value = accent ? 1760 : 1175;
    const gain = context.createGain();
    gain.gain.setValueAtTime(accent ? 0.09 : 0.055, at);
    gain.gain.exponentialRampToValueAtTime(0.0001, at + 0.04);
    source.connect(gain).connect(out);
    source.start(at);
    source.stop(at + 0.05);
    return source;
  },
};
