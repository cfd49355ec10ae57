// What all queues of the device share: storage that may be missing, what an answer means, and whose turn it is.

import assert from "node:assert/strict";
import { kept, names } from "../../static/js/device/kept.js";
import { leave } from "../../static/js/device/leaving.js";
import { meaning, passes, posted } from "../../static/js/device/posted.js";
import { MORE, Turns } from "../../static/js/device/turns.js";
import { Store } from "../../static/js/quiz-store.js";
import { device, gone, json } from "./device.js";

const MEANINGS = [[200, "", false], [204, "", false], [401, "signed-out", true], [403, "signed-out", true], [404, "refused", false], [409, "conflict", false], [413, "refused", false], [422, "refused", false], [429, "busy", true], [500, "server", true], [503, "server", true], [507, "full", true]];

Deno.test("an answer means the same everywhere, and only what mends itself is tried again", () => {
  for (const [status, why, again] of MEANINGS) {
    const found = meaning(new Response(null, { status: Number(status) }));
    assert.deepEqual([found, found !== "" && passes(found)], [why, again], String(status));
  }
  assert.equal(meaning({ type: "opaqueredirect" }), "signed-out"); // a page that leads to the sign-in
});

Deno.test("without a connection nothing is thrown", async () => {
  device([gone]);
  assert.deepEqual(await posted("/x/", "{}"), { why: "offline", answer: null });
});

Deno.test("storage that is full or switched off does not stop the page", () => {
  device();
  const place = kept("topform-a-1");
  assert.deepEqual([place.write({ a: 1 }), place.read(), names("topform-a-")], [true, { a: 1 }, ["topform-a-1"]]);
  /** @type {any} */ (localStorage).full = true;
  assert.equal(place.write({ a: 2 }), false);
  Object.defineProperty(globalThis, "localStorage", { get() { throw new Error("SecurityError"); }, configurable: true });
  assert.deepEqual([place.read("none"), place.write(1), names("topform-")], ["none", false, []]);
  place.drop();
});

Deno.test("what cannot be read counts as empty", () => {
  device();
  localStorage.setItem("topform-b", "{half");
  assert.deepEqual(kept("topform-b").read([]), []);
});

Deno.test("one is under way at a time, and who asks meanwhile comes after it", async () => {
  device();
  let under = 0, most = 0, left = 3;
  const turns = new Turns(async () => {
    most = Math.max(most, ++under);
    await new Promise((done) => setTimeout(done, 2));
    under -= 1;
    left -= 1;
    return left > 0 ? MORE : "";
  });
  assert.deepEqual(await Promise.all([turns.now(), turns.now(), turns.now()]), [true, true, true]);
  assert.equal(most, 1);
  turns.stop();
});

Deno.test("tries come further apart, at once again after one that went, and a refusal is not repeated", async () => {
  device();
  const answers = ["offline", "offline", "busy", "", "refused"];
  const turns = new Turns(() => Promise.resolve(answers.shift()), { first: 1000, longest: 3000 });
  const seen = [];
  for (let at = 0; at < 5; at += 1) { await turns.now(); seen.push(turns.delay); }
  assert.deepEqual(seen, [2000, 3000, 2000, 1000, 1000]);
  turns.stop();
  assert.equal(await turns.now(), false);
});

Deno.test("what a closed window left is sent once, however often sending is asked for", async () => {
  const sent = device([async (body) => {
    await new Promise((done) => setTimeout(done, 5));
    return json({ open: true, at: "10:00", results: body.saves.map((row) => ({ q: row.q, seq: row.seq, outcome: "saved", version: 1, text: row.text })) });
  }]);
  localStorage.setItem("topform-answers-7-old", JSON.stringify([{ q: "3", text: "4", seq: 9, base: 0 }]));
  const nothing = () => {};
  const made = new Store({ attempt: 7, saveUrl: "/save/", versions: {}, token: "t", onStatus: nothing, onSaved: nothing, onConflict: nothing, onClosed: nothing });
  made.put("1", "1");
  await Promise.all([made.flush(), made.flush(), made.flush()]);
  assert.deepEqual(sent.map((one) => one.body.saves[0].q), ["3", "1"]);
  made.stop();
});

Deno.test("who signs out leaves nothing on the device that the server has, and loses nothing it has not", () => {
  device();
  kept("chart:1:2:3").write({ text: "| C |", serial: 1, sent: "| C |" });
  kept("chart:1:2:4").write({ text: "| C | F |", serial: 1, sent: "| C |" });
  kept("topform-answers-7-a").write([{ q: "1" }]);
  leave();
  assert.deepEqual([...names("chart:"), ...names("topform-")], ["chart:1:2:4", "topform-answers-7-a"]);
});
