// The site's service worker: what of today's plan was opened stays readable without a connection. The server puts VERSION and FILES
// in front of this file (studio/views/offline.py). What may be kept is decided there too: only pages that carry the header
// Offline-Copy, which names whose page it is. Nothing is ever sent from here, and nothing that was to be sent is answered.
/* global VERSION, FILES */

const OWN = "topform-pages"; // pages of one person
const STATIC = `topform-files-${VERSION}`;
const MOST = 60; // pages
const OLDEST = 36 * 3600 * 1000; // milliseconds: older copies are not shown
const HASHED = /\.[0-9a-f]{12}\.\w+$/;
const OWNER = new URL("/offline-owner", self.location.href).href; // not a page of the site: a note in the cache itself
const KEPT = "X-Kept";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(tidied()));

async function tidied() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("topform-files-") && name !== STATIC).map((name) => caches.delete(name)));
  await self.clients.claim();
}

self.addEventListener("message", (event) => {
  const { owner, keep, forget } = event.data ?? {};
  event.waitUntil(forget ? forgotten() : belongsTo(owner).then(() => keep && kept()));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method !== "GET") {
    if (url.pathname === "/account/logout/") event.waitUntil(forgotten());
    return; // goes to the network, or fails: never answered from here
  }
  if (request.headers.has("Range")) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request, url));
  else if (request.mode === "navigate" || request.destination === "" || request.destination === "document") event.respondWith(page(request, url));
});

// --- whose pages these are

async function ownerOf(cache) {
  const note = await cache.match(OWNER);
  return note ? note.text() : "";
}

async function forgotten() {
  await caches.delete(OWN);
}

// What another person left here goes before anything of this one is kept.
async function belongsTo(owner) {
  let cache = await caches.open(OWN);
  const before = await ownerOf(cache);
  if (before && before !== owner) {
    await forgotten();
    cache = await caches.open(OWN);
  }
  if (before !== owner && owner) await cache.put(OWNER, new Response(owner));
}

// --- pages

async function page(request, url) {
  let answer;
  try {
    answer = await fetch(request);
  } catch (error) {
    return (await copyOf(request, url)) ?? (request.mode === "navigate" ? nothingKept() : Promise.reject(error));
  }
  const owner = answer.headers.get("Offline-Copy");
  if (owner && answer.ok && !request.headers.has("HX-Request")) await put(url.href, answer.clone(), owner).catch(() => null);
  return answer;
}

async function put(address, answer, owner) {
  await belongsTo(owner);
  const headers = new Headers(answer.headers);
  headers.set(KEPT, String(Date.now()));
  const cache = await caches.open(OWN);
  await cache.put(address, new Response(await answer.blob(), { status: 200, headers }));
  const keys = (await cache.keys()).filter((key) => key.url !== OWNER);
  await Promise.all(keys.slice(0, Math.max(0, keys.length - MOST)).map((key) => cache.delete(key)));
}

async function copyOf(request, url) {
  const cache = await caches.open(OWN);
  const found = (await cache.match(url.href)) ?? (await otherChorus(cache, url)) ?? (await cache.match(url.href, { ignoreSearch: request.mode === "navigate" }));
  const when = Number(found?.headers.get(KEPT) ?? 0);
  if (!found || Date.now() - when > OLDEST) return null;
  return request.mode === "navigate" ? withWords(found, when) : found;
}

// A chorus of the band that was fetched before, in the same style and key, stands in for one with another seed.
async function otherChorus(cache, url) {
  if (!url.pathname.endsWith("/band/chorus/")) return undefined;
  const same = (other) => other.pathname === url.pathname && ["style", "key"].every((name) => other.searchParams.get(name) === url.searchParams.get(name));
  const fits = (await cache.keys()).filter((key) => same(new URL(key.url)));
  const turn = [...(url.searchParams.get("seed") ?? "")].reduce((sum, one) => (sum * 31 + one.charCodeAt(0)) >>> 0, 7);
  return fits.length ? cache.match(fits[turn % fits.length]) : undefined;
}

function said(when) {
  /** @type {Intl.DateTimeFormatOptions} */
  const day = new Date(when).toDateString() === new Date().toDateString() ? {} : { weekday: "short" };
  return new Date(when).toLocaleTimeString("en", { ...day, hour: "2-digit", minute: "2-digit", hour12: false });
}

async function withWords(found, when) {
  const words = `<p class="offline-word" role="status">Offline, as of ${said(when)}. What you write is kept on this device where the page says so; nothing else can be sent now. <a href="">Try again</a></p>`;
  const html = (await found.text()).replace('<main id="main"', `${words}<main id="main"`);
  const headers = new Headers(found.headers);
  headers.delete("Content-Length");
  return new Response(html, { status: 200, headers });
}

async function nothingKept() {
  const cache = await caches.open(OWN);
  const list = [];
  for (const key of await cache.keys()) {
    const copy = await cache.match(key);
    if (key.url === OWNER || !copy.headers.get("Content-Type")?.startsWith("text/html") || Date.now() - Number(copy.headers.get(KEPT)) > OLDEST) continue;
    const title = /<title>([^<]*)<\/title>/.exec(await copy.text())?.[1].split(" · ")[0] ?? key.url;
    list.push(`<li><a href="${encodeURI(new URL(key.url).pathname)}">${title}</a></li>`);
  }
  const files = FILES.filter((name) => name.endsWith(".css")).map((name) => `<link rel="stylesheet" href="${name}">`).join("");
  const body = `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No connection</title>${files}</head><body><main class="page" id="main"><h1>No connection</h1><p>This page is not kept on this device. ${list.length ? "These are:" : "None is."}</p><ul>${list.join("")}</ul><p>Answers that were typed and takes that were recorded here stay on this device, and go on their way when there is a connection.</p><p><a href="">Try again</a></p></main></body></html>`;
  return new Response(body, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'self'" } });
}

// --- files of the site: those with a hash in their name never change, the others are asked for first

async function file(request, url) {
  const cache = await caches.open(STATIC);
  const own = HASHED.test(url.pathname) ? await cache.match(url.href) : undefined;
  if (own) return own;
  try {
    const answer = await fetch(request);
    if (answer.status === 200) await cache.put(url.href, answer.clone()).catch(() => null);
    return answer;
  } catch (error) {
    const copy = await cache.match(url.href);
    if (copy) return copy;
    throw error;
  }
}

// --- today's plan, fetched ahead: its pages, and what they need to look and sound right

async function kept() {
  const answer = await fetch("/work/offline/", { headers: { Accept: "application/json" } });
  if (!answer.ok) return;
  const { owner, pages } = await answer.json();
  await belongsTo(owner);
  const cache = await caches.open(OWN);
  for (const address of pages) {
    const href = new URL(address, self.location.href).href;
    const copy = await cache.match(href);
    if (copy && Date.now() - Number(copy.headers.get(KEPT)) < 3600 * 1000) continue;
    const found = await fetch(href);
    if (found.ok && found.headers.get("Offline-Copy") === owner) await put(href, found, owner);
  }
  const files = await caches.open(STATIC);
  for (const name of FILES) if (!(await files.match(new URL(name, self.location.href).href))) await files.add(name).catch(() => null);
}
