// What a performance is made of, without any sound: the plan of choruses and when everything in one of them happens.
// Times of a chorus are quarter notes as the server gives them (straight); what comes out is seconds from its beginning.

// The chorus of a plan that is played as number `at` (from 0); past the end the last ones come again, tempo and all.
export function planned(plan, at, endless) {
  if (at < plan.length) return plan[at];
  return endless && plan.length ? { ...plan[plan.length - 1], silent: plan[at % plan.length].silent } : null;
}

// A tempo holds until a later chorus names another.
export function tempoAt(plan, at, first) {
  let tempo = first;
  for (const chorus of plan.slice(0, at + 1)) if (chorus.tempo) tempo = chorus.tempo;
  return tempo;
}

export function swingAt(tempo, usual, own, swings) {
  if (!swings) return 1;
  return own ?? usual[String(Math.round(tempo))] ?? 1;
}

// A straight place with uneven quavers: beats stay, the half beat moves to the end of the long quaver.
export function swung(time, ratio) {
  const beat = Math.floor(time + 1e-6);
  const rest = time - beat;
  const turn = ratio / (1 + ratio);
  return beat + (rest <= 0.5 ? rest * 2 * turn : turn + (rest - 0.5) * 2 * (1 - turn));
}

// Whether the band is silent in a bar of a chorus, by its number as played.
export function silentIn(silent, bar) {
  if (!silent) return false;
  return silent === "all" || (bar >= silent[0] && bar <= silent[1]);
}

// Everything of one chorus in order of time: {time, length, part, ...} in seconds.
export function timeline(sound, { tempo, swing, silent, clicks }) {
  const second = 60 / tempo;
  const found = [];
  const ends = sound.bars.map((bar) => bar[1] + bar[2]);
  const barOf = (time) => sound.bars[ends.findIndex((end) => time < end - 1e-6)]?.[0] ?? 0;
  const at = (time) => swung(time, swing) * second;
  const add = (part, time, length, rest) => {
    if (silentIn(silent, barOf(time))) return;
    found.push({ part, time: at(time), length: at(time + length) - at(time), ...rest });
  };
  sound.bars.forEach((bar, index) => {
    found.push({ part: "bar", time: bar[1] * second, length: bar[2] * second, bar: index, number: bar[0] });
    const step = bar[4] === 8 && bar[3] % 3 === 0 ? 1.5 : 4 / bar[4];
    for (let beat = 0; beat * step < bar[2] - 1e-6; beat += 1) {
      if (clicks.includes(beat + 1)) found.push({ part: "click", time: (bar[1] + beat * step) * second, length: 0, accent: beat === 0 });
    }
  });
  for (const [time, length, pitch] of sound.bass) add("bass", time, length, { pitch });
  for (const [time, length, ...pitches] of sound.piano) add("piano", time, length, { pitches });
  for (const [time, what, level] of sound.drums) add("drums", time, 0, { what, level });
  found.sort((a, b) => a.time - b.time);
  return { list: found, length: ends[ends.length - 1] * second };
}
