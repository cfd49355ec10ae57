// Takes on this device: kept in the browser's own database until one is chosen and the server has acknowledged it. What is
// chosen goes up in the background, again and again until it is there; a lost connection or a closed tab delays it only.
// The server keeps one take for each token, so that a try whose answer got lost does no harm.

import { kept } from "../device/kept.js";
import { BUSY, CONFLICT, FULL, OFFLINE, posted, SERVER, SIGNED_OUT } from "../device/posted.js";
import { Turns } from "../device/turns.js";

const NAME = "topform-takes";
const WAITING = kept("topform-takes-waiting"); // pages look only where something waits
const LONGEST_WAIT = 60000;
const PATIENCE = 120000; // for one try

let opened = null;

function database() {
  opened ??= new Promise((done, fail) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("takes", { keyPath: "token" });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => { opened = null; fail(asked.error); };
  });
  return opened;
}

async function run(mode, act) {
  const base = await database();
  return new Promise((done, fail) => {
    const work = base.transaction("takes", mode);
    const asked = act(work.objectStore("takes"));
    work.oncomplete = () => done(asked?.result);
    work.onerror = () => fail(work.error);
    work.onabort = () => fail(work.error);
  });
}

// A take of `user` (the id of an account): others who use this device neither see it nor send it.
export async function mine(user) {
  const rows = await run("readonly", (takes) => takes.getAll());
  return rows.filter((row) => row.user === String(user)).sort((a, b) => a.made.localeCompare(b.made));
}

export const keep = (row) => run("readwrite", (takes) => takes.put(row));
export const drop = (token) => run("readwrite", (takes) => takes.delete(token));

export function csrf() {
  try {
    return JSON.parse(document.body.getAttribute("hx-headers:inherited"))["X-CSRFToken"];
  } catch {
    return "";
  }
}

async function post(row) {
  const body = new FormData();
  for (const [name, value] of Object.entries(row.fields)) if (value !== null && value !== undefined) body.set(name, String(value));
  body.set("player", row.user);
  body.set("token", row.token);
  body.set("made", row.made);
  body.set("file", row.blob, "take");
  const { why, answer } = await posted(row.url, body, { token: csrf(), headers: { Accept: "application/json" }, patience: PATIENCE });
  if (WORDS[why]) return { why, words: WORDS[why] };
  const told = await answer.json().catch(() => ({}));
  return why ? { why, refused: told.problem || "The server refuses it. Save the file and tell your instructor." } : { why, taken: told };
}

const WORDS = {
  [SIGNED_OUT]: "You are signed out. Sign in, and it goes up by itself.",
  [FULL]: "The programme's disk is full. It stays here and is tried again; tell the director.",
  [BUSY]: "Many takes are coming in just now. It is tried again in a moment.",
  [SERVER]: "The server cannot take it just now. It stays here and is tried again.",
  [CONFLICT]: "It was recorded by somebody else who used this device, and waits for them.",
  [OFFLINE]: "No connection: kept on this device, goes up when there is one.",
};
const WAITS = new Set([SIGNED_OUT, CONFLICT]); // for somebody, not for time: a whole file is not sent again and again

export class Sender {
  user; tell;

  // `tell(row, state, words | what the server said)`: state is sending, waiting, refused or taken.
  constructor(user, tell) {
    Object.assign(this, { user: String(user), tell });
    // Not all at the same moment: an ensemble that was turned away together does not come back together.
    this.turns = new Turns(() => this.all(), { longest: LONGEST_WAIT, spread: true });
  }

  async choose(row) {
    await keep({ ...row, state: "chosen" });
    WAITING.write(1); // without it, only pages with a recorder send what waits
    await this.flush();
  }

  flush() { return this.turns.now(); }

  // Everything chosen, one after the other; why one of them is to be tried again, else "".
  async all() {
    let again = "";
    for (const row of (await mine(this.user)).filter((one) => one.state === "chosen")) again = (await this.send(row)) || again;
    const left = await mine(this.user);
    if (!left.some((one) => one.state === "chosen")) WAITING.drop();
    return again;
  }

  async send(row) {
    this.tell(row, "sending", "");
    const found = await post(row);
    if (found.taken) {
      await drop(row.token);
      this.tell(row, "taken", found.taken);
      return "";
    }
    if (found.refused) {
      await keep({ ...row, state: "refused", problem: found.refused });
      this.tell(row, "refused", found.refused);
      return "";
    }
    this.tell(row, "waiting", found.words);
    return WAITS.has(found.why) ? "" : found.why;
  }
}
