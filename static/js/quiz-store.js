// Answers on their way: kept on the device first, sent when possible, taken off when the server has them.
//
// Every window has its own client id and a sequence that only rises. What is not yet on the server lies in
// localStorage under that client id, so that a closed lid or a crash loses nothing: the next window sends it
// under the same id and sequence, and the server takes each only once.

import { kept, names } from "./device/kept.js";
import { posted } from "./device/posted.js";
import { MORE, Turns } from "./device/turns.js";

const WAIT = 600;        // after the last key stroke
const PATIENCE = 15000;  // for one request

export class Store {
  versions; onStatus; saveUrl; onClosed; token; onConflict; onSaved;

  constructor({ attempt, saveUrl, versions, token, onStatus, onSaved, onConflict, onClosed }) {
    Object.assign(this, { saveUrl, versions, token, onStatus, onSaved, onConflict, onClosed });
    this.prefix = `topform-answers-${attempt}-`;
    this.client = newId();
    this.sequence = 0;
    this.waiting = new Map();   // question → { q, text, seq, base }
    this.turns = new Turns((options) => this.send(options));
  }

  get stopped() { return this.turns.stopped; }

  // Queues of windows that are gone: what they had not sent yet, oldest first.
  leftovers() {
    const found = [];
    for (const name of names(this.prefix)) {
      if (name === this.name(this.client)) continue;
      const rows = read(name);
      if (rows.length) found.push({ client: name.slice(this.prefix.length), rows });
      else kept(name).drop();
    }
    return found;
  }

  name(client) { return this.prefix + client; }

  keep() {
    const place = kept(this.name(this.client));
    if (this.waiting.size) place.write([...this.waiting.values()]); // without room the page itself still holds them
    else place.drop();
  }

  put(question, text) {
    this.sequence += 1;
    this.waiting.set(question, { q: question, text, seq: this.sequence, base: this.versions[question] ?? 0 });
    this.keep();
    this.onStatus("writing");
    this.turns.soon(WAIT);
  }

  hurry() { if (this.waiting.size) this.flush(); }

  // Send everything that waits. Resolves true when nothing waits any more.
  flush(options = {}) { return this.turns.now(options); }

  // What closed windows left goes first; on the way out of the page there is time for its own answers alone.
  /** @param {{ last?: boolean }} options */
  async send({ last = false }) {
    for (const { client, rows } of last ? [] : this.leftovers()) {
      const why = await this.post(client, rows);
      if (why) return why;
    }
    if (!this.waiting.size) return "";
    this.onStatus("saving");
    const why = await this.post(this.client, [...this.waiting.values()], last);
    return why || (this.waiting.size ? MORE : "");
  }

  // The answers on the server that are newer than what this window knows and does not change itself just now.
  async elsewhere() {
    if (this.stopped || this.turns.under) return [];
    try {
      const response = await fetch(this.saveUrl, { redirect: "error", signal: AbortSignal.timeout(PATIENCE) });
      if (!response.ok) return [];
      const body = await response.json();
      if (!body.open) { this.onClosed(); return []; }
      return body.answers.filter((row) => row.version > (this.versions[row.q] ?? 0) && !this.waiting.has(row.q));
    } catch { return []; }   // without a connection there is nothing to hear of
  }

  // One queue on its way; "" when the server has it, else why not.
  async post(client, rows, last = false) {
    const body = JSON.stringify({ client, saves: rows });
    const { why, answer } = await posted(this.saveUrl, body, { token: this.token, headers: { "Content-Type": "application/json" }, last, patience: PATIENCE });
    const said = why ? null : await answer.json().catch(() => null);
    if (said) this.take(said, client);
    else this.onStatus(STATES[why] ?? why);
    return said ? "" : why || "offline"; // an answer that broke off is asked for again
  }

  take(body, client) {
    const own = client === this.client;
    const done = new Set();
    for (const result of body.results) {
      done.add(result.seq);
      if (result.outcome === "conflict") this.onConflict(result, own);
      else { this.versions[result.q] = result.version; this.onSaved(result, own); }
      const now = this.waiting.get(result.q);
      if (own && now && now.seq === result.seq) this.waiting.delete(result.q);
      else if (now && result.outcome !== "conflict") now.base = Math.max(now.base, result.version);
    }
    if (own) this.keep();
    else {
      const rest = read(this.name(client)).filter((row) => !done.has(row.seq));
      if (rest.length) kept(this.name(client)).write(rest);
      else kept(this.name(client)).drop();
    }
    if (!body.open) { this.onClosed(); return; }
    this.onStatus(this.waiting.size ? "saving" : "saved", body.at);
  }

  stop() { this.turns.stop(); }
}

const STATES = { busy: "server", conflict: "refused", "": "offline" }; // told in the same words

function read(name) {
  const rows = kept(name).read([]);
  return Array.isArray(rows) ? rows : [];
}

function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));   // plain http has no randomUUID
  bytes[6] = (bytes[6] & 15) | 64; bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
