// Takes on this device: kept in the browser's own database until one is chosen and the server has acknowledged it. What is
// chosen goes up in the background, again and again until it is there; a lost connection or a closed tab delays it only.
// The server keeps one take for each token, so that a try whose answer got lost does no harm.

const NAME = "topform-takes";
const WAITING = "topform-takes-waiting"; // in localStorage: pages look only where something waits
const FIRST_WAIT = 2000;
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
  const answer = await fetch(row.url, {
    method: "POST", body, headers: { "X-CSRFToken": csrf(), Accept: "application/json" }, redirect: "manual", signal: AbortSignal.timeout(PATIENCE),
  });
  if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) return { again: false, words: "You are signed out. Sign in, and it goes up by itself." };
  if (answer.status === 507) return { again: true, words: "The programme's disk is full. It stays here and is tried again; tell the director." };
  if (answer.status === 429) return { again: true, words: "Many takes are coming in just now. It is tried again in a moment.", soon: true };
  if (answer.status >= 500) return { again: true, words: "The server cannot take it just now. It stays here and is tried again." };
  if (answer.status === 409) return { again: false, words: "It was recorded by somebody else who used this device, and waits for them." };
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) return { refused: told.problem || "The server refuses it. Save the file and tell your instructor." };
  return { taken: told };
}

export class Sender {
  user; tell;

  // `tell(row, state, words | what the server said)`: state is sending, waiting, refused or taken.
  constructor(user, tell) {
    Object.assign(this, { user: String(user), tell, wait: FIRST_WAIT, busy: false });
    window.addEventListener("online", () => this.flush());
  }

  async choose(row) {
    await keep({ ...row, state: "chosen" });
    try { localStorage.setItem(WAITING, "1"); } catch { /* without it, only pages with a recorder send what waits */ }
    await this.flush();
  }

  async flush() {
    clearTimeout(this.timer);
    if (this.busy) return;
    this.busy = true;
    let again = false;
    try {
      for (const row of (await mine(this.user)).filter((one) => one.state === "chosen")) again = (await this.send(row)) || again;
      const left = await mine(this.user);
      if (!left.some((one) => one.state === "chosen")) localStorage.removeItem(WAITING);
    } finally {
      this.busy = false;
    }
    if (!again) return;
    // Not all at the same moment: an ensemble that was turned away together does not come back together.
    this.timer = setTimeout(() => this.flush(), this.wait * (0.5 + Math.random()));
    this.wait = this.soon ? FIRST_WAIT : Math.min(this.wait * 2, LONGEST_WAIT);
  }

  // True when it is to be tried again.
  async send(row) {
    this.tell(row, "sending", "");
    let found;
    try {
      found = await post(row);
    } catch {
      found = { again: true, words: "No connection: kept on this device, goes up when there is one." };
    }
    if (found.taken) {
      await drop(row.token);
      this.wait = FIRST_WAIT;
      this.tell(row, "taken", found.taken);
    } else if (found.refused) {
      await keep({ ...row, state: "refused", problem: found.refused });
      this.tell(row, "refused", found.refused);
    } else {
      this.soon = Boolean(found.soon);
      this.tell(row, "waiting", found.words);
    }
    return Boolean(found.again);
  }
}
