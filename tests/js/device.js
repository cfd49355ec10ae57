// What the queues of a page stand on: a window, a document that can be hidden, storage of the device, a server.
// A page's own browser has the real ones; tests/browser walks through the pages with them.

export class Storage {
  full = false;
  rows = new Map();
  get length() { return this.rows.size; }
  key(at) { return [...this.rows.keys()][at] ?? null; }
  getItem(name) { return this.rows.get(name) ?? null; }
  setItem(name, text) {
    if (this.full) throw new Error("QuotaExceededError");
    this.rows.set(name, String(text));
  }
  removeItem(name) { this.rows.delete(name); }
}

/** A fresh device; `answers` are functions of (body, address), one a request, the last one for all that follow. */
export function device(answers = []) {
  const sent = [];
  const left = [...answers];
  globalThis.window = /** @type {any} */ (new EventTarget());
  globalThis.document = /** @type {any} */ (Object.assign(new EventTarget(), { visibilityState: "visible" }));
  Object.defineProperty(globalThis, "localStorage", { value: new Storage(), configurable: true, writable: true });
  globalThis.fetch = /** @type {any} */ (async (address, options = {}) => {
    const body = typeof options.body === "string" ? JSON.parse(options.body) : options.body;
    sent.push({ address, method: options.method ?? "GET", body });
    const answer = (left.length > 1 ? left.shift() : left[0])(body, address);
    if (answer instanceof Error) throw answer;
    return await answer;
  });
  return sent;
}

export const json = (value, status = 200) => new Response(JSON.stringify(value), { status, headers: { "Content-Type": "application/json" } });
export const gone = () => new TypeError("no connection");
