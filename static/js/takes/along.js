// Where on an engraved bar a beat stands: at its note, and between two notes in proportion.

/**
 * @param {number} start of the bar, crotchets
 * @param {number} length of the bar, crotchets
 * @param {number[][]} notes [start, duration, ...], crotchets
 * @param {{left: number, width: number, first?: number, heads?: number[]}} measure as shares of the picture: its edges, its first
 *   note or rest, its notes from left to right
 * @returns {number[][]} [crotchets from the start of the bar, share of the picture], rising
 */
export function knots(start, length, notes, measure) {
  const inside = notes.map((note) => note[0] - start).filter((at) => at > -0.01 && at < length - 0.01);
  const onsets = [...new Set(inside)].sort((a, b) => a - b);
  const heads = measure.heads ?? [];
  const pairs = onsets.length && heads.length === onsets.length ? onsets.map((at, place) => [at, heads[place]]) : [];
  if (!pairs.length || pairs[0][0] > 0.01) pairs.unshift([0, Math.min(measure.first ?? measure.left, pairs[0]?.[1] ?? 1)]);
  return [...pairs, [length, measure.left + measure.width]];
}

/** @param {number[][]} pairs as `knots` gives them @param {number} beat crotchets from the start of the bar */
export function along(pairs, beat) {
  const after = pairs.findIndex(([at]) => at > beat);
  if (after < 0) return pairs[pairs.length - 1][1];
  if (after === 0) return pairs[0][1];
  const [[from, left], [to, right]] = [pairs[after - 1], pairs[after]];
  return left + ((beat - from) / (to - from)) * (right - left);
}
