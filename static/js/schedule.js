// When everything sounds: pure arithmetic on the data of a sheet, tested without a browser's sound.
// Times are quarter notes ("crotchets") from the start of the line; see drills/sheets.py, in_sound().

const SWUNG = 2 / 3; // the second of two quavers begins on the last third of the beat

// A place in the line with swung quavers: whole beats stay, the half-beat moves later.
export function swung(time, swing) {
  if (!swing) return time;
  const beat = Math.floor(time + 1e-6);
  const rest = time - beat;
  return beat + (rest < 0.5 ? rest * 2 * SWUNG : SWUNG + (rest - 0.5) * 2 * (1 - SWUNG));
}

// Indices of the first and last bar to play for the numbers as played from..to: the shortest stretch of the line between
// them (a line carried through twelve keys has its numbers more than once). The whole line, as
// the chorus goes, when that is asked for, when a field is empty and when there is no such stretch.
export function barRange(bars, from, to) {
  const whole = [0, bars.length - 1];
  const numbers = bars.map((bar) => bar[0]);
  const low = Math.min(...numbers.filter((number) => !from || number >= from));
  const high = Math.max(...numbers.filter((number) => !to || number <= to));
  const most = Math.max(...numbers);
  if (low <= Math.max(1, Math.min(...numbers)) && high === most) return whole;
  let best = null;
  numbers.forEach((number, first) => {
    const last = number === low ? numbers.indexOf(high, first) : -1;
    if (last >= 0 && (!best || last - first < best[1] - best[0])) best = [first, last];
  });
  return best ?? whole;
}

// Beats of a bar as [time, accented]: the unit of the metre, dotted crotchets in compound time.
export function beatsOf(bar) {
  const [, start, length, beats, unit] = bar;
  const compound = unit === 8 && beats % 3 === 0;
  const step = compound ? 1.5 : 4 / unit;
  const found = [];
  for (let at = 0; at < length - 1e-6; at += step) found.push([start + at, at === 0]);
  return found;
}

// Everything of bars first..last in order of time: {time, length, part, pitch | accent | bar}.
export function events(sound, first, last, swing) {
  const begin = sound.bars[first][1];
  const end = sound.bars[last][1] + sound.bars[last][2];
  const inside = (time) => time >= begin - 1e-6 && time < end - 1e-6;
  const found = [];
  const add = (time, length, rest) => {
    const at = swung(time, swing);
    const stop = swung(Math.min(time + length, end), swing);
    found.push({ time: at - begin, length: stop - at, ...rest });
  };
  for (let index = first; index <= last; index += 1) {
    const bar = sound.bars[index];
    found.push({ time: bar[1] - begin, length: bar[2], part: "bar", bar: index });
    for (const [time, accent] of beatsOf(bar)) found.push({ time: time - begin, length: 0, part: "click", accent });
  }
  for (const [time, length, pitch] of sound.notes) if (inside(time)) add(time, length, { part: "line", pitch });
  // A band, where the sheet has one, plays instead of roots and shells.
  for (const [time, length, pitch] of sound.bass ?? []) if (inside(time)) add(time, length, { part: "bass", pitch });
  for (const [time, length, ...pitches] of sound.piano ?? []) if (inside(time)) for (const pitch of pitches) add(time, length, { part: "shells", pitch });
  for (const [time, what, level] of sound.drums ?? []) if (inside(time)) add(time, 0, { part: "drums", what, level });
  for (const [time, length, bass, ...shell] of sound.bass ? [] : sound.chords) {
    if (!inside(time)) continue;
    add(time, length, { part: "bass", pitch: bass });
    for (const pitch of shell) add(time, length, { part: "shells", pitch });
  }
  found.sort((a, b) => a.time - b.time);
  return { list: found, length: end - begin };
}

// The chord that sounds at the start of a bar is not known here; the words come from the page. One bar of count-in.
export function countIn(bar) {
  return { list: beatsOf(bar).map(([time, accent]) => ({ time: time - bar[1], accent })), length: bar[2] };
}
