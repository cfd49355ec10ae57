// Where a moment of a sound lies in its form, and back. `times` has a row a chorus: the second at which each bar begins,
// and at last the end of the chorus. `bars` are [printed number, start, length, beats, unit], as the server keeps them.

// { chorus, bar, beat } at a second, clamped to the form; null when there are no bars.
export function spotAt(times, bars, seconds) {
  if (!times.length || !bars.length) return null;
  let chorus = times.findIndex((row) => seconds < row[row.length - 1]);
  if (chorus < 0) chorus = times.length - 1;
  const row = times[chorus];
  let bar = 0;
  while (bar + 1 < bars.length && seconds >= row[bar + 1] - 1e-3) bar += 1;
  const share = Math.min(0.999, Math.max(0, (seconds - row[bar]) / (row[bar + 1] - row[bar])));
  return { chorus: chorus + 1, bar, beat: Math.round(share * bars[bar][2] * 100) / 100 };
}

export function secondsAt(times, bars, { chorus, bar, beat = 0 }) {
  const row = times[Math.min(chorus, times.length) - 1];
  return row[bar] + (beat / bars[bar][2]) * (row[bar + 1] - row[bar]);
}

// The bar after (or before) one, over the choruses; null past either end.
export function stepBar(times, bars, { chorus, bar }, way) {
  const index = (chorus - 1) * bars.length + bar + way;
  if (index < 0 || index >= times.length * bars.length) return null;
  return { chorus: Math.floor(index / bars.length) + 1, bar: index % bars.length, beat: 0 };
}

// "beat 3", "and of 3": the nearest quaver, in the beat of the metre. As drills/takes/played.py says it.
export function beatWords(beat, beats, unit) {
  const step = unit === 8 && beats % 3 === 0 ? 1.5 : 4 / unit;
  let count = Math.floor(beat / step + 1e-6);
  let rest = beat / step - count;
  if (rest >= 0.75 && (count + 1) * step < (beats * 4) / unit) {
    count += 1;
    rest = 0;
  }
  return rest >= 0.25 ? `and of ${count + 1}` : `beat ${count + 1}`;
}

export function spotWords(bars, choruses, { chorus, bar, beat }) {
  const [number, , , beats, unit] = bars[bar];
  const where = number ? `bar ${number}` : "pickup";
  const words = `${where}, ${beatWords(beat, beats, unit)}`;
  return choruses > 1 ? `Chorus ${chorus}, ${words}` : words[0].toUpperCase() + words.slice(1);
}

// How fast the other sound has to go for its bar to last as long as the take's; within what keeps its pitch bearable.
export function evenRate(one, other, { chorus, bar }) {
  const own = one[Math.min(chorus, one.length) - 1];
  const row = other[Math.min(chorus, other.length) - 1];
  return Math.min(2, Math.max(0.5, (row[bar + 1] - row[bar]) / (own[bar + 1] - own[bar])));
}
