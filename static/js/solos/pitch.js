// Spelled pitches in the browser: {step, alter}, step counting letters from C0 (7 an octave), alter in half steps. Pure.
// The same arithmetic as tunes/harmony (C4 is middle C, MIDI 60).

const LETTERS = "CDEFGAB";
const NATURAL = [0, 2, 4, 5, 7, 9, 11];
const FIFTHS = [0, 2, 4, -1, 1, 3, 5]; // of C D E F G A B on the line of fifths
const SIGNS = { "-2": "bb", "-1": "b", 0: "", 1: "#", 2: "##" };
const SHOWN = { "-2": "♭♭", "-1": "♭", 0: "", 1: "♯", 2: "♯♯" };

export function parse(text) {
  const found = /^([A-G])(b*|#*)(-?\d{1,2})$/.exec(text);
  if (!found) return null;
  const alter = found[2].startsWith("#") ? found[2].length : -found[2].length;
  return { step: 7 * Number(found[3]) + LETTERS.indexOf(found[1]), alter };
}
export const letterOf = (pitch) => ((pitch.step % 7) + 7) % 7;
export const octaveOf = (pitch) => Math.floor(pitch.step / 7);
export const text = (pitch) => `${LETTERS[letterOf(pitch)]}${SIGNS[pitch.alter]}${octaveOf(pitch)}`;
export const display = (pitch) => `${LETTERS[letterOf(pitch)]}${SHOWN[pitch.alter]}${octaveOf(pitch)}`;
export const natural = (step) => 12 * (Math.floor(step / 7) + 1) + NATURAL[((step % 7) + 7) % 7];
export const midi = (pitch) => natural(pitch.step) + pitch.alter;
export const fifths = (pitch) => FIFTHS[letterOf(pitch)] + 7 * pitch.alter;
export const same = (a, b) => Boolean(a && b) && a.step === b.step && a.alter === b.alter;

/** Carried by [steps, half steps]; a spelling with more than two signs is simplified. */
export function moved(pitch, [steps, half]) {
  const step = pitch.step + steps;
  return tidy({ step, alter: midi(pitch) + half - natural(step) });
}
function tidy(pitch) {
  let { step, alter } = pitch;
  while (alter > 2) { const up = natural(step + 1) - natural(step); step += 1; alter -= up; }
  while (alter < -2) { const down = natural(step) - natural(step - 1); step -= 1; alter += down; }
  return { step, alter };
}

/** The alteration that a key signature gives each letter (index from C). */
export function signature(count) {
  const row = [0, 0, 0, 0, 0, 0, 0];
  const order = count > 0 ? [3, 0, 4, 1, 5, 2, 6] : [6, 2, 5, 1, 4, 0, 3];
  for (let i = 0; i < Math.min(7, Math.abs(count)); i += 1) row[order[i]] = Math.sign(count);
  return row;
}

/** A half step up or down, on the line of letters that needs fewest signs. */
export function nudged(pitch, by) {
  const target = midi(pitch) + by;
  if (Math.abs(pitch.alter + by) <= 1 && !(pitch.alter === 0 && [2, 6].includes(letterOf(pitch)) && by > 0)
      && !(pitch.alter === 0 && [0, 3].includes(letterOf(pitch)) && by < 0)) return { step: pitch.step, alter: pitch.alter + by };
  return spellings(target).sort((a, b) => Math.abs(a.alter) - Math.abs(b.alter) || (by > 0 ? b.alter - a.alter : a.alter - b.alter))[0];
}
/** Every spelling of a sounding pitch with at most one sign. */
export function spellings(number) {
  const around = Math.floor((number - 12) / 12) * 7;
  const found = [];
  for (let step = around - 2; step < around + 9; step += 1) {
    const alter = number - natural(step);
    if (Math.abs(alter) <= 1) found.push({ step, alter });
  }
  return found;
}
/** The other spelling of the same sound, if there is one. */
export function respelled(pitch) {
  const all = spellings(midi(pitch));
  const at = all.findIndex((other) => same(other, pitch));
  return all[(at + 1) % all.length] ?? pitch;
}
/** How a sounding pitch is best written: as a tone of the chord (names such as "Bb"), else near the key. */
export function spelled(number, keyFifths, tones = []) {
  const all = spellings(number);
  const inChord = all.find((pitch) => tones.includes(text(pitch).replace(/-?\d+$/, "")));
  return inChord ?? all.sort((a, b) => Math.abs(fifths(a) - keyFifths - 2) - Math.abs(fifths(b) - keyFifths - 2))[0];
}
