// The queue of a quiz: what a player typed is sent once, in order, and never lost or overwritten in silence.

import assert from "node:assert/strict";
import { Store } from "../../static/js/quiz-store.js";
import { device, gone, json } from "./device.js";

const saved = (body, version = 1) => json({ open: true, at: "10:00", results: body.saves.map((row) => ({ q: row.q, seq: row.seq, outcome: "saved", version, text: row.text })) });

function store(answers) {
  const sent = device(answers), told = [], conflicts = [];
  const made = new Store({
    attempt: 7, saveUrl: "/save/", versions: {}, token: "t",
    onStatus: (state) => told.push(state), onSaved: () => {}, onConflict: (row) => conflicts.push(row), onClosed: () => told.push("closed"),
  });
  return { made, sent, told, conflicts };
}

Deno.test("an answer whose reply was lost goes again under the same sequence", async () => {
  const { made, sent, told } = store([gone, (body) => saved(body)]);
  made.put("1", "5 of 2");
  assert.equal(await made.flush(), false);
  assert.equal(told.at(-1), "offline");
  assert.equal(JSON.parse(localStorage.getItem(made.name(made.client))).length, 1);
  assert.equal(await made.flush(), true);
  assert.deepEqual(sent.map((one) => one.body.saves.map((row) => row.seq)), [[1], [1]]);
  assert.equal(localStorage.length, 0);
  made.stop();
});

Deno.test("what was typed while an answer was under way goes next, on top of the version that came back", async () => {
  const { made, sent } = store([(body) => saved(body, 4), (body) => saved(body, 5)]);
  made.put("1", "2");
  const first = made.flush();
  made.put("1", "25");
  await first;
  assert.deepEqual(sent.map((one) => one.body.saves[0].text), ["2", "25"]);
  assert.equal(made.versions["1"], 5);
  made.stop();
});

Deno.test("a conflict is told and does not stay in the queue", async () => {
  const { made, conflicts } = store([(body) => json({ open: true, at: "10:00", results: [{ q: "1", seq: body.saves[0].seq, outcome: "conflict", version: 3, text: "6" }] })]);
  made.put("1", "1");
  await made.flush();
  assert.deepEqual(conflicts.map((row) => row.text), ["6"]);
  assert.equal(made.waiting.size, 0);
  assert.equal(made.versions["1"], undefined); // only a choice takes the other's version
  made.stop();
});

Deno.test("what a closed window left is sent under that window's name, before anything of this one", async () => {
  const { made, sent } = store([(body) => saved(body)]);
  localStorage.setItem("topform-answers-7-old", JSON.stringify([{ q: "3", text: "4", seq: 9, base: 0 }]));
  localStorage.setItem("topform-answers-8-other", JSON.stringify([{ q: "3", text: "4", seq: 9, base: 0 }]));
  made.put("1", "1");
  await made.flush();
  assert.deepEqual(sent.map((one) => [one.body.client === made.client, one.body.saves[0].q]), [[false, "3"], [true, "1"]]);
  assert.deepEqual([.../** @type {any} */ (localStorage).rows.keys()], ["topform-answers-8-other"]);
  made.stop();
});

Deno.test("what others wrote is heard only where nothing waits here", async () => {
  const { made } = store([() => json({ open: true, answers: [{ q: "1", version: 2, text: "a" }, { q: "2", version: 2, text: "b" }, { q: "3", version: 1, text: "c" }] })]);
  made.versions = { 3: 1 };
  made.put("1", "mine");
  assert.deepEqual((await made.elsewhere()).map((row) => row.q), ["2"]);
  made.stop();
});

Deno.test("a device without room still sends what the page holds", async () => {
  const { made, sent } = store([(body) => saved(body)]);
  /** @type {any} */ (localStorage).full = true;
  made.put("1", "1");
  assert.equal(await made.flush(), true);
  assert.equal(sent.length, 1);
  made.stop();
});

for (const [status, state] of [[401, "signed-out"], [403, "signed-out"], [507, "full"], [503, "server"], [429, "server"], [404, "refused"]]) {
  Deno.test(`an answer of ${status} is told as ${state} and keeps the answer`, async () => {
    const { made, told } = store([() => json({}, Number(status))]);
    made.put("1", "1");
    await made.flush();
    assert.equal(told.at(-1), state);
    assert.equal(made.waiting.size, 1);
    made.stop();
  });
}
