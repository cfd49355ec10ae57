// Answers on their way: kept on the device first, sent when possible, taken off when the server has them.
//
// Every window has its own client id and a sequence that only rises. What is not yet on the server lies in
// localStorage under that client id, so that a closed lid or a crash loses nothing: the next window sends it
// under the same id and sequence, and the server takes each only once.

const WAIT = 600;        // after the last key stroke
const SLOWEST = 30000;   // between tries without a connection
const PATIENCE = 15000;  // for one request

export class Store {
  versions; onStatus; saveUrl; onClosed; token; onConflict; onSaved;

  constructor({ attempt, saveUrl, versions, token, onStatus, onSaved, onConflict, onClosed }) {
    Object.assign(this, { saveUrl, versions, token, onStatus, onSaved, onConflict, onClosed });
    this.prefix = `topform-answers-${attempt}-`;
    this.client = newId();
    this.sequence = 0;
    this.waiting = new Map();   // question → { q, text, seq, base }
    this.sending = null;
    this.delay = 2000;
    this.stopped = false;
    window.addEventListener("online", () => this.flush());
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "hidden" && this.waiting.size) this.flush({ last: true });
    });
  }

  // Queues of windows that are gone: what they had not sent yet, oldest first.
  leftovers() {
    const found = [];
    for (let i = 0; i < localStorage.length; i += 1) {
      const name = localStorage.key(i);
      if (!name.startsWith(this.prefix) || name === this.name(this.client)) continue;
      const rows = read(name);
      if (rows.length) found.push({ client: name.slice(this.prefix.length), rows });
      else localStorage.removeItem(name);
    }
    return found;
  }

  async sendLeftovers() {
    for (const { client, rows } of this.leftovers()) {
      const answer = await this.post(client, rows);
      if (!answer.ok) { this.explain(answer); this.tryLater(); return; }
      this.take(answer.body, client);
    }
  }

  name(client) { return this.prefix + client; }

  keep() {
    try {
      if (this.waiting.size) localStorage.setItem(this.name(this.client), JSON.stringify([...this.waiting.values()]));
      else localStorage.removeItem(this.name(this.client));
      return true;
    } catch { return false; }   // no room, or storage is switched off: the page itself still holds them
  }

  put(question, text) {
    this.sequence += 1;
    this.waiting.set(question, { q: question, text, seq: this.sequence, base: this.versions[question] ?? 0 });
    this.keep();
    this.onStatus("writing");
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), WAIT);
  }

  hurry() { if (this.waiting.size) { clearTimeout(this.timer); this.flush(); } }

  // Send everything that waits. Resolves true when nothing waits any more.
  async flush({ last = false } = {}) {
    clearTimeout(this.timer);
    if (this.stopped) return false;
    if (this.sending) { await this.sending; return this.waiting.size ? this.flush({ last }) : true; }
    if (this.leftovers().length && !last) await this.sendLeftovers();
    if (!this.waiting.size) return !this.leftovers().length;
    const rows = [...this.waiting.values()];
    this.onStatus("saving");
    this.sending = this.post(this.client, rows, last);
    const answer = await this.sending;
    this.sending = null;
    if (!answer.ok) { this.explain(answer); this.tryLater(answer); return false; }
    this.delay = 2000;
    this.take(answer.body, this.client);
    return this.waiting.size ? this.flush({ last }) : true;
  }

  // The answers on the server that are newer than what this window knows and does not change itself just now.
  async elsewhere() {
    if (this.stopped || this.sending) return [];
    try {
      const response = await fetch(this.saveUrl, { redirect: "error", signal: AbortSignal.timeout(PATIENCE) });
      if (!response.ok) return [];
      const body = await response.json();
      if (!body.open) { this.onClosed(); return []; }
      return body.answers.filter((row) => row.version > (this.versions[row.q] ?? 0) && !this.waiting.has(row.q));
    } catch { return []; }   // without a connection there is nothing to hear of
  }

  async post(client, rows, last = false) {
    const gone = new AbortController();
    const timer = setTimeout(() => gone.abort(), PATIENCE);
    try {
      const response = await fetch(this.saveUrl, {
        method: "POST", keepalive: last, redirect: "manual", signal: gone.signal,
        headers: { "Content-Type": "application/json", "X-CSRFToken": this.token },
        body: JSON.stringify({ client, saves: rows }),
      });
      if (response.type === "opaqueredirect" || response.status === 401 || response.status === 403) return { ok: false, why: "signed-out" };
      if (response.status === 507) return { ok: false, why: "full" };
      if (!response.ok) return { ok: false, why: response.status >= 500 || response.status === 429 ? "server" : "refused" };
      return { ok: true, body: await response.json() };
    } catch { return { ok: false, why: "offline" }; }
    finally { clearTimeout(timer); }
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
      if (rest.length) localStorage.setItem(this.name(client), JSON.stringify(rest));
      else localStorage.removeItem(this.name(client));
    }
    if (!body.open) { this.onClosed(); return; }
    this.onStatus(this.waiting.size ? "saving" : "saved", body.at);
  }

  /** @param {{ why?: string }} answer */
  explain({ why }) { this.onStatus(why); }

  /** @param {{ why?: string }} [answer] */
  tryLater({ why } = {}) {
    if (why === "refused") return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), this.delay);
    this.delay = Math.min(this.delay * 2, SLOWEST);
  }

  stop() { this.stopped = true; clearTimeout(this.timer); }
}

function read(name) {
  try {
    const rows = JSON.parse(localStorage.getItem(name) ?? "[]");
    return Array.isArray(rows) ? rows : [];
  } catch { return []; }
}

function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));   // plain http has no randomUUID
  bytes[6] = (bytes[6] & 15) | 64; bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
