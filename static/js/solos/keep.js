// A draft on its way: on the device first, then to the server. Nothing that was written is lost, and what another window
// wrote is never overwritten without being asked.

const WAIT = 700, SLOWEST = 30000;

/** Whether two stored solos hold the same notes, whatever order their fields come in. */
export function sameNotes(one, other) {
  const plain = (notes) => JSON.stringify((notes?.notes ?? []).map((row) => Object.keys(row).sort().map((key) => [key, row[key]])));
  return plain(one) === plain(other);
}

export class Keeper {
  name; onStatus; url; token; onOther;

  /** `onStatus(words, isBad)`; `onOther({serial, at, notes}, mine)` when another window wrote since. */
  constructor({ url, token, name, serial, notes, onStatus, onOther }) {
    Object.assign(this, { url, token, name, serial, known: notes, onStatus, onOther }); // `known`: what the server had when last heard of
    this.client = crypto.randomUUID?.() ?? String(Math.random()).slice(2);
    this.waiting = null;
    this.delay = 2000;
    this.sending = false;
    this.stopped = false;
    window.addEventListener("online", () => this.send());
    document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") this.send({ last: true }); });
  }

  // A page can be made on the server just before the notes of the window it replaces arrive there, and that window may hear
  // that they did: then nothing is left on the device, and the page has older notes. So the device knows the newest serial.
  get seen() { return this.name.replace("solo", "seen"); }
  see(serial) { try { localStorage.setItem(this.seen, String(serial)); } catch { /* switched off: the server still asks */ } }
  /** Whether this page came with older notes than this device has seen saved; says so once only. */
  isOld() {
    let newest = 0;
    try { newest = Number(localStorage.getItem(this.seen) ?? 0); } catch { /* switched off */ }
    if (newest !== this.serial) this.see(this.serial);
    return newest > this.serial;
  }

  /** What an earlier window left on this device: {notes, serial}, or null. */
  left() { try { return JSON.parse(localStorage.getItem(this.name) ?? "null"); } catch { return null; } }
  forget() { try { localStorage.removeItem(this.name); } catch { /* switched off: there is nothing to forget */ } }

  put(notes) {
    this.waiting = notes;
    this.device = true;
    try { localStorage.setItem(this.name, JSON.stringify({ notes, serial: this.serial, client: this.client })); } catch { this.device = false; }
    this.onStatus("Writing");
    clearTimeout(this.timer);
    if (!this.stopped) this.timer = setTimeout(() => this.send(), WAIT);
  }

  /** Sends what waits; true when nothing waits any more. */
  async send({ over = false, last = false } = {}) {
    clearTimeout(this.timer);
    while (this.sending) await this.sending; // one at a time: of two under way the older might be written last
    if (!this.waiting || (this.stopped && !over)) return !this.waiting;
    this.sending = this.post(over, last);
    const done = await this.sending;
    this.sending = null;
    return done && this.waiting ? this.send() : done;
  }

  async post(over, last) {
    const sent = this.waiting;
    const body = new URLSearchParams({ notes: JSON.stringify(sent), serial: String(this.serial), client: this.client });
    if (over) body.set("over", "on");
    try {
      const answer = await fetch(this.url, { method: "POST", body, headers: { "X-CSRFToken": this.token }, keepalive: last && body.toString().length < 60000, redirect: "manual" });
      if (answer.type === "opaqueredirect" || answer.status === 403) return this.fail("you are signed out; sign in again in another window");
      if (answer.status === 409) return this.other(await answer.json(), sent);
      if (answer.status === 422) return this.fail((await answer.json()).problem, false);
      if (!answer.ok) return this.fail("the server is busy");
      const said = await answer.json();
      this.serial = said.serial;
      this.see(said.serial);
      this.known = sent;
      this.delay = 2000;
      this.stopped = false;
      if (this.waiting === sent) { this.waiting = null; this.forget(); this.onStatus(`Saved ${said.at}`); }
      return true;
    } catch { return this.fail("no connection"); }
  }

  fail(why, again = true) {
    this.onStatus(`Not saved: ${why}${this.device ? ", kept on this device" : "; leave this window open"}`, true);
    if (again) { this.timer = setTimeout(() => this.send(), this.delay); this.delay = Math.min(this.delay * 2, SLOWEST); }
    return false;
  }

  other(found, mine) {
    if (sameNotes(found.notes, mine)) { // it was written, and the answer was lost on its way
      this.serial = found.serial;
      this.known = mine;
      if (this.waiting === mine) { this.waiting = null; this.forget(); this.onStatus(`Saved ${found.at}`); }
      return true;
    }
    if (sameNotes(found.notes, this.known) && found.serial !== this.serial) { this.serial = found.serial; return this.post(false, false); } // nobody changed a note: one was sent twice
    if (found.client && found.client === this.before) { this.serial = found.serial; this.before = null; return this.post(false, false); } // written by the window that left these notes
    this.stopped = true;
    this.onStatus("Not saved: another window wrote since; choose below", true);
    this.onOther(found, mine);
    return false;
  }

  /** The other window's notes are taken; mine have been kept aside by the caller. */
  take(serial, notes) { this.serial = serial; this.known = notes; this.waiting = null; this.stopped = false; this.forget(); this.onStatus("The other window's notes"); }
}
