// What becomes of something sent: one word for each way it can end, the same on every page.

export const OFFLINE = "offline", SIGNED_OUT = "signed-out", FULL = "full", BUSY = "busy", SERVER = "server", CONFLICT = "conflict", REFUSED = "refused";

/** Ways that mend themselves: it is tried again. Who is signed out signs in in another window; what is refused stays refused. */
const PASSING = new Set([OFFLINE, SIGNED_OUT, FULL, BUSY, SERVER]);
export const passes = (why) => PASSING.has(why);

const PATIENCE = 15000; // milliseconds for one try

/** The word for an answer, "" for one that was taken. */
export function meaning(answer) {
  if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) return SIGNED_OUT;
  if (answer.ok) return "";
  if (answer.status === 409) return CONFLICT;
  if (answer.status === 507) return FULL;
  if (answer.status === 429) return BUSY;
  return answer.status >= 500 ? SERVER : REFUSED;
}

/**
 * Posts `body`; `{why, answer}`, `answer` null without a connection. Never throws. `last`: the page is going away.
 * @param {string} url
 * @param {any} body
 * @param {{ token?: string, headers?: Record<string, string>, patience?: number, last?: boolean, signal?: AbortSignal }} [how]
 */
export async function posted(url, body, { token = "", headers = {}, patience = PATIENCE, last = false, signal } = {}) {
  const gone = new AbortController();
  const timer = setTimeout(() => gone.abort(), patience);
  signal?.addEventListener("abort", () => gone.abort());
  try {
    const answer = await fetch(url, { method: "POST", body, headers: { "X-CSRFToken": token, ...headers }, redirect: "manual", keepalive: last, signal: gone.signal });
    return { why: meaning(answer), answer };
  } catch {
    return { why: OFFLINE, answer: null };
  } finally {
    clearTimeout(timer);
  }
}
