// The list of keys of a page, behind a button and the key "?". Looked up at each use: a page may put another in its place.

import { letters } from "./keys.js";

const button = () => document.querySelector("[data-keys]");

function open() {
  const list = document.getElementById("keys");
  if (!list || list.open) return;
  const from = document.activeElement;
  list.showModal();
  list.addEventListener("close", () => from?.focus?.(), { once: true });
}

// Of no use where there are no keys; the first press of one says that there are.
function offer() {
  if (button()) button().hidden = window.matchMedia("(pointer: coarse)").matches;
}

offer();
document.addEventListener("take:mounted", offer);
document.addEventListener("keydown", () => { if (button()) button().hidden = false; }, { once: true });
document.addEventListener("click", (event) => { if (event.target.closest?.("[data-keys]")) open(); });
letters({ "?": open });
