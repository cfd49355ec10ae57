// A draft on its way: on the device first, then to the server. Nothing that was written is lost, and what another window
// wrote is never overwritten without being asked.

import { kept } from "../device/kept.js";
import { BUSY, CONFLICT, FULL, OFFLINE, posted, REFUSED, SERVER, SIGNED_OUT } from "../device/posted.js";
import { MORE, Turns } from "../device/turns.js";

const WAIT = 700;
const MOST_AT_LAST = 60000; // bytes that a browser sends for a page that is going away
const WORDS = {
  [SIGNED_OUT]: "you are signed out; sign in again in another window", [OFFLINE]: "no connection", [FULL]: "the site's disk is full",
  [BUSY]: "the server is busy", [SERVER]: "the server is busy",
};

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
    this.place = kept(name);
    // A page can be made on the server just before the notes of the window it replaces arrive there, and that window may hear
    // that they did: then nothing is left on the device, and the page has older notes. So the device knows the newest serial.
    this.seen = kept(name.replace("solo", "seen"));
    this.turns = new Turns((options) => this.post(options));
  }

  get stopped() { return this.turns.stopped; }

  /** Whether this page came with older notes than this device has seen saved; says so once only. */
  isOld() {
    const newest = Number(this.seen.read(0));
    if (newest !== this.serial) this.seen.write(this.serial);
    return newest > this.serial;
  }

  /** What an earlier window left on this device: {notes, serial}, or null. */
  left() { return this.place.read(); }
  forget() { this.place.drop(); }

  put(notes) {
    this.waiting = notes;
    this.device = this.place.write({ notes, serial: this.serial, client: this.client });
    this.onStatus("Writing");
    this.turns.soon(WAIT);
  }

  /** Sends what waits; true when nothing waits any more. `over`: over what another window wrote. */
  send(options = {}) { return this.waiting ? this.turns.now(options) : Promise.resolve(true); }

  /** @param {{ over?: boolean, last?: boolean }} options */
  async post({ over = false, last = false }) {
    const sent = this.waiting;
    if (!sent) return "";
    const body = new URLSearchParams({ notes: JSON.stringify(sent), serial: String(this.serial), client: this.client });
    if (over) body.set("over", "on");
    const { why, answer } = await posted(this.url, body, { token: this.token, last: last && body.toString().length < MOST_AT_LAST });
    const said = why && why !== CONFLICT && why !== REFUSED ? null : await answer.json().catch(() => null);
    if (why === CONFLICT && said) return this.other(said, sent);
    if (why || !said) return this.fail(why || OFFLINE, said);
    this.serial = said.serial;
    this.seen.write(said.serial);
    this.turns.go();
    this.arrived(sent, said.at);
    return this.waiting ? MORE : "";
  }

  /** The server has these notes. */
  arrived(notes, at) {
    this.known = notes;
    if (this.waiting !== notes) return;
    this.waiting = null;
    this.forget();
    this.onStatus(`Saved ${at}`);
  }

  fail(why, said) {
    const words = WORDS[why] ?? said?.problem ?? "the server is busy";
    this.onStatus(`Not saved: ${words}${this.device ? ", kept on this device" : "; leave this window open"}`, true);
    return why === REFUSED && !said?.problem ? SERVER : why; // what is refused without a reason may be a page in between
  }

  other(found, mine) {
    if (sameNotes(found.notes, mine)) { // it was written, and the answer was lost on its way
      this.serial = found.serial;
      this.arrived(mine, found.at);
      return this.waiting ? MORE : "";
    }
    const nobody = sameNotes(found.notes, this.known) && found.serial !== this.serial; // nobody changed a note: one was sent twice
    const left = found.client && found.client === this.before; // written by the window that left these notes
    if (nobody || left) {
      this.serial = found.serial;
      if (left) this.before = null;
      return MORE;
    }
    this.turns.stop();
    this.onStatus("Not saved: another window wrote since; choose below", true);
    this.onOther(found, mine);
    return CONFLICT;
  }

  /** The other window's notes are taken; mine have been kept aside by the caller. */
  take(serial, notes) { this.serial = serial; this.known = notes; this.waiting = null; this.turns.go(); this.forget(); this.onStatus("The other window's notes"); }
}
