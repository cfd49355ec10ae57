// When the band and the click sound, worked out by hand. Ratios of swing are those that a sheet asks for.

import assert from "node:assert/strict";
import { planned, silentIn, swung, tempoAt, timeline } from "../../static/js/band-plan.js";
import * as schedule from "../../static/js/schedule.js";

const near = (one, other) => assert.ok(Math.abs(one - other) < 1e-9, `${one} is not ${other}`);

Deno.test("beats stay and the half beat moves to the end of the long quaver", () => {
  for (const [time, ratio, expected] of [[0, 2, 0], [1, 2, 1], [0.5, 1, 0.5], [0.5, 2, 2 / 3], [2.5, 3, 2.75], [0.25, 2, 1 / 3], [0.75, 2, 5 / 6]]) near(swung(time, ratio), expected);
  near(schedule.swung(1.5, true), 1 + 2 / 3);
  near(schedule.swung(1.5, false), 1.5);
});

Deno.test("a tempo holds until a chorus names another; past the end the last chorus comes again", () => {
  const plan = [{ tempo: 100, key: "F" }, { key: "G" }, { tempo: 120, key: "A" }];
  assert.deepEqual([0, 1, 2, 5].map((at) => tempoAt(plan, at, 90)), [100, 100, 120, 120]);
  assert.equal(tempoAt([{}, {}], 1, 90), 90);
  assert.equal(planned(plan, 3, false), null);
  assert.equal(planned(plan, 7, true).key, "A");
});

Deno.test("the band is silent from the first to the last bar that it leaves out", () => {
  assert.deepEqual([4, 5, 8, 9].map((bar) => silentIn([5, 8], bar)), [false, true, true, false]);
  assert.ok(silentIn("all", 1));
  assert.ok(!silentIn(null, 1));
});

// Bars: [number as played, start, length, beats, unit], in quarter notes.
const SOUND = { bars: [[1, 0, 4, 4, 4], [2, 4, 4, 4, 4]], bass: [[0, 1, 36], [4.5, 0.5, 38]], piano: [[2.5, 0.5, 60, 64]], drums: [[7, "ride", 1]] };

Deno.test("a click on 2 and 4 falls there, at the tempo asked for", () => {
  const { list, length } = timeline(SOUND, { tempo: 120, swing: 1, silent: null, clicks: [2, 4] });
  assert.deepEqual(list.filter((one) => one.part === "click").map((one) => one.time), [0.5, 1.5, 2.5, 3.5]);
  near(length, 4);
});

Deno.test("a band that drops out leaves bar lines and click", () => {
  const { list } = timeline(SOUND, { tempo: 60, swing: 2, silent: [2, 2], clicks: [1] });
  assert.deepEqual(list.filter((one) => ["bass", "drums", "piano"].includes(one.part)).map((one) => one.part), ["bass", "piano"]);
  assert.equal(list.filter((one) => one.part === "click").length, 2);
  near(list.find((one) => one.part === "piano").time, 2 + 2 / 3);
});

Deno.test("six eight has two beats, three four three", () => {
  assert.deepEqual(schedule.beatsOf([1, 0, 3, 6, 8]), [[0, true], [1.5, false]]);
  assert.deepEqual(schedule.beatsOf([1, 3, 3, 3, 4]), [[3, true], [4, false], [5, false]]);
});

Deno.test("bars asked for by their numbers are the shortest stretch that has them", () => {
  const bars = [1, 2, 3, 4, 1, 2, 3, 4].map((number) => [number]);
  assert.deepEqual(schedule.barRange(bars, 2, 3), [1, 2]);
  assert.deepEqual(schedule.barRange(bars, 1, 4), [0, 7]);
  assert.deepEqual(schedule.barRange(bars, "", ""), [0, 7]);
});
