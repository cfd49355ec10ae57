// Sounds made by the page with Web Audio: a plucked bass, an electric-piano-like tone, a reed-like line, a click.
// Nothing is recorded or fetched, so there is no sound licence beyond this project's own.

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

export const voices = {
  line: (context, out, pitch, at, length) =>
    tone(context, out, "triangle", pitch, at, length * 0.92, { attack: 0.012, level: 0.3, release: 0.05, cutoff: 3200 }),
  bass: (context, out, pitch, at, length) =>
    tone(context, out, "sawtooth", pitch, at, Math.min(length, 1.6), { attack: 0.006, level: 0.26, release: 0.09, cutoff: 420 }),
  shells: (context, out, pitch, at, length) => {
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
