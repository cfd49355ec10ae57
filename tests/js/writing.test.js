// Writing a solo, command by command, and the answers' keypad.

import assert from "node:assert/strict";
import { rubbed } from "../../static/js/quiz-pad.js";
import { Editor } from "../../static/js/solos/editor.js";
import { QUARTER, filled, share, state } from "../../static/js/solos/score.js";

const blank = (bars = 2) => new Editor({ bars: Array.from({ length: bars }, () => []), lengths: Array(bars).fill(4 * QUARTER), fifths: -1, clef: "treble", tones: () => [] });
const C = 0, B = 6; // letters from C

Deno.test("every command is one step of undo, and redo brings it back", () => {
  const editor = blank();
  editor.letter(C);
  editor.rest();
  editor.letter(C);
  const written = JSON.stringify(editor.bars);
  for (let n = 0; n < 3; n += 1) assert.ok(editor.undo());
  assert.deepEqual(editor.bars, [[], []]);
  assert.equal(editor.undo(), false);
  for (let n = 0; n < 3; n += 1) assert.ok(editor.redo());
  assert.equal(JSON.stringify(editor.bars), written);
});

Deno.test("a letter takes the signature: B in F major is B flat", () => {
  const editor = blank();
  editor.letter(B);
  assert.match(JSON.stringify(editor.bars[0][0].pitch), /-1/);
});

Deno.test("a bar that is full sends what follows to the next one", () => {
  const editor = blank();
  for (let n = 0; n < 9; n += 1) editor.letter(C); // nine quavers
  assert.deepEqual(editor.bars.map((bar) => bar.length), [8, 1]);
  assert.equal(filled(editor.bars[0]), 4 * QUARTER);
});

Deno.test("a bar says in beats of its metre what is missing or too much", () => {
  const quarter = { length: QUARTER, pitch: null };
  for (const [bar, unit, length, words] of [
    [[], 4, 4, "empty"],
    [[quarter, quarter, quarter], 4, 4, "3 of 4: 1 beat missing"],
    [[quarter, quarter, quarter, quarter], 4, 4, ""],
    [[quarter, quarter, quarter, quarter, { ...quarter, length: QUARTER / 2 }], 4, 4, "½ beat too many"],
    [[quarter], 8, 3, "2 of 6: 4 beats missing"],
  ]) assert.equal(state(/** @type {any} */ (bar), Number(length) * QUARTER, unit).words, words);
});

Deno.test("parts of a beat are written as parts", () => {
  assert.deepEqual([1, 0.5, 2 / 3, 1.25, 2.75].map(share), ["1", "½", "⅔", "1¼", "2¾"]);
});

Deno.test("rubbing out takes away what one key wrote", () => {
  for (const [text, rest] of [["5 of ", "5"], ["2maj7", "2"], ["D dorian", "D"], ["F#", "F"], ["b9 chord tone", "b9"], ["4 minor", "4"], ["", ""]]) assert.equal(rubbed(text), rest);
});
