// Keeps what today needs readable without a connection: asks the site's service worker (offline-worker.js), says whose device page
// this is, and has everything forgotten where nobody is signed in.
const owner = document.body.dataset.user ?? "";

async function forget() {
  await caches.delete("topform-pages");
  (await navigator.serviceWorker.getRegistration("/"))?.active?.postMessage({ forget: true });
}

async function keep() {
  await navigator.serviceWorker.register("/offline-worker.js", { scope: "/" });
  const { active } = await navigator.serviceWorker.ready;
  active.postMessage({ owner, keep: Boolean(document.querySelector("#today")) && navigator.onLine && !navigator.connection?.saveData });
}

if ("serviceWorker" in navigator && "caches" in window) (owner ? keep() : forget()).catch(() => null); // a browser that refuses goes on without
