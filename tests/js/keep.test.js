// The draft of a solo on its way: nobody is asked where no note differs, and nobody's notes are written over.

import assert from "node:assert/strict";
import { Keeper, sameNotes } from "../../static/js/solos/keep.js";
import { device, gone, json } from "./device.js";

const NOTES = { notes: [{ bar: 1, pitch: "D4", length: 2 }] };
const MORE = { notes: [{ bar: 1, pitch: "D4", length: 2 }, { bar: 1, pitch: "F4", length: 2 }] };
const OTHER = { notes: [{ bar: 1, pitch: "A4", length: 2 }] };

function keeper(answers) {
  const sent = device(answers), told = [], asked = [];
  const made = new Keeper({ url: "/draft/", token: "t", name: "solo-1", serial: 3, notes: NOTES, onStatus: (words) => told.push(words), onOther: (found) => asked.push(found.serial) });
  return { made, sent, told, asked };
}
const end = (made) => made.turns.stop();

Deno.test("the same notes are the same in any order of their fields", () => {
  assert.ok(sameNotes(NOTES, { notes: [{ length: 2, pitch: "D4", bar: 1 }] }));
  assert.ok(!sameNotes(NOTES, MORE));
});

Deno.test("a draft that cannot be sent stays on the device and goes later", async () => {
  const { made, told } = keeper([gone, () => json({ serial: 4, at: "10:00" })]);
  made.put(MORE);
  assert.equal(await made.send(), false);
  assert.match(told.at(-1), /no connection, kept on this device/);
  assert.equal(await made.send(), true);
  assert.equal(made.left(), null);
  assert.equal(made.serial, 4);
  end(made);
});

Deno.test("a reply that was lost asks nobody: the server has these very notes", async () => {
  const { made, asked } = keeper([() => json({ serial: 4, at: "10:00", notes: MORE }, 409)]);
  made.put(MORE);
  assert.equal(await made.send(), true);
  assert.deepEqual([asked, made.serial], [[], 4]);
  end(made);
});

Deno.test("a serial that rose without a changed note asks nobody", async () => {
  const { made, asked, sent } = keeper([() => json({ serial: 5, notes: NOTES }, 409), () => json({ serial: 6, at: "10:00" })]);
  made.put(MORE);
  assert.equal(await made.send(), true);
  assert.deepEqual([asked, sent.map((one) => one.body.get("serial"))], [[], ["3", "5"]]);
  end(made);
});

Deno.test("another window's notes are asked about, and nothing is sent until somebody chose", async () => {
  const { made, asked, sent } = keeper([() => json({ serial: 5, notes: OTHER }, 409)]);
  made.put(MORE);
  assert.equal(await made.send(), false);
  assert.equal(await made.send(), false);
  assert.deepEqual([asked, sent.length], [[5], 1]);
  assert.deepEqual(made.left().notes, MORE);
  end(made);
});

Deno.test("one draft is under way at a time, however often sending is asked for", async () => {
  let under = 0, most = 0;
  const { made, sent } = keeper([async () => {
    most = Math.max(most, ++under);
    await new Promise((done) => setTimeout(done, 5));
    under -= 1;
    return json({ serial: 4 + sent.length, at: "10:00" });
  }]);
  made.put(NOTES);
  const first = made.send();
  made.put(MORE);
  await Promise.all([first, made.send(), made.send(), made.send()]);
  assert.equal(most, 1);
  assert.deepEqual(JSON.parse(sent.at(-1).body.get("notes")), MORE);
  end(made);
});

Deno.test("a page that came with older notes than this device saw saved says so, once", async () => {
  const { made } = keeper([() => json({ serial: 9, at: "10:00" })]);
  assert.ok(!made.isOld()); // a device that has seen nothing yet
  made.put(MORE);
  await made.send();
  const late = new Keeper({ url: "/draft/", token: "t", name: "solo-1", serial: 3, notes: NOTES, onStatus: () => {}, onOther: () => {} });
  assert.deepEqual([late.isOld(), late.isOld()], [true, false]);
  end(made);
});
