// The list of keys of a page, behind a button and the key "?".

import { letters } from "./keys.js";

const list = document.getElementById("keys");
const button = document.querySelector("[data-keys]");

function open() {
  const from = document.activeElement;
  list.showModal();
  list.addEventListener("close", () => from?.focus?.(), { once: true });
}

if (list && button) {
  // Of no use where there are no keys; the first press of one says that there are.
  button.hidden = window.matchMedia("(pointer: coarse)").matches;
  document.addEventListener("keydown", () => { button.hidden = false; }, { once: true });
  button.addEventListener("click", open);
  letters({ "?": () => { if (!list.open) open(); } });
}
