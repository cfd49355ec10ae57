// The arithmetic of a form map, the same as tunes/recordings/form_map.py. Pure.

/** Seconds of every bar line: one list of `bars` times a chorus. Marks are {chorus, bar, seconds}. */
export function barTimes(marks, bars, duration = null) {
  const ordered = [...marks].sort((a, b) => a.chorus - b.chorus || a.bar - b.bar);
  if (!ordered.length || bars < 1) return [];
  if (ordered.some((mark, i) => i && mark.seconds <= ordered[i - 1].seconds)) return [];
  const place = (mark) => (mark.chorus - 1) * bars + mark.bar - 1;
  const first = ordered[0], last = ordered.at(-1), span = place(last) - place(first);
  const length = span ? (last.seconds - first.seconds) / span : Math.max(0, (duration ?? first.seconds) - first.seconds) / bars;
  const at = (index) => {
    if (index <= place(first)) return Math.max(0, first.seconds - (place(first) - index) * length);
    for (let i = 1; i < ordered.length; i += 1) {
      const one = ordered[i - 1], two = ordered[i];
      if (index <= place(two)) return one.seconds + ((index - place(one)) / (place(two) - place(one))) * (two.seconds - one.seconds);
    }
    const time = last.seconds + (index - place(last)) * length;
    return duration === null ? time : Math.min(time, duration);
  };
  return Array.from({ length: last.chorus }, (_c, chorus) => Array.from({ length: bars }, (_b, bar) => at(chorus * bars + bar)));
}

/** {chorus, bar} that sounds at a moment, or null before the first bar. */
export function placeAt(times, seconds) {
  let found = null;
  times.forEach((row, chorus) => row.forEach((start, bar) => { if (start <= seconds + 0.001) found = { chorus: chorus + 1, bar: bar + 1 }; }));
  return found;
}

/** The mark that a tap at `seconds` means: the next top, or the next section after the mark before it. */
export function nextMark(marks, seconds, sections, top) {
  const before = marks.filter((mark) => mark.seconds < seconds).sort((a, b) => a.seconds - b.seconds).at(-1);
  const at = Math.round(seconds * 1000) / 1000;
  const opening = { bar: 1, label: sections[0]?.[1] ?? "" };
  if (!before) return { chorus: 1, ...opening, seconds: at };
  const following = sections.find(([bar]) => bar > before.bar);
  if (top || !following) return { chorus: before.chorus + 1, ...opening, seconds: at };
  return { chorus: before.chorus, bar: following[0], label: following[1], seconds: at };
}

/**
 * The rest of a map that has been begun: every top and section to the end of the sound, as suggested marks. The length of a
 * bar is that of the bars marked so far; from one mark alone that of the tempo (beats a minute, beats a bar). [] without either.
 */
export function suggest(marks, bars, sections, duration, tempo = 0, beats = 0) {
  const ordered = [...marks].sort((a, b) => a.chorus - b.chorus || a.bar - b.bar);
  const first = ordered[0], last = ordered.at(-1);
  if (!first || duration === null) return [];
  const place = (mark) => (mark.chorus - 1) * bars + mark.bar - 1;
  const span = place(last) - place(first);
  const length = span > 0 ? (last.seconds - first.seconds) / span : tempo && beats ? (beats * 60) / tempo : 0;
  if (!(length > 0.2)) return [];
  const made = [];
  for (let chorus = last.chorus; chorus <= 200; chorus += 1) {
    for (const [bar, label] of sections) {
      const away = (chorus - 1) * bars + bar - 1 - place(last);
      if (away <= 0) continue;
      const seconds = last.seconds + away * length;
      if (seconds > duration - length / 2) return made;
      made.push({ chorus, bar, label, seconds: Math.round(seconds * 1000) / 1000 });
    }
  }
  return made;
}
