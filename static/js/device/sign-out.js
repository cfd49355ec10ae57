// Before somebody signs out: a take that was never chosen is a recording of them and stays on this device, seen by nobody else. They
// are asked whether it may. Without a connection one cannot be signed out, and is told so.

import { drop, mine } from "../takes/store.js";

const user = document.body.dataset.user ?? "";

/** @param {string} words @param {[string, () => void][]} choices */
function ask(words, choices) {
  const box = document.createElement("dialog");
  box.setAttribute("aria-label", "Before you sign out");
  const line = document.createElement("p");
  line.textContent = words;
  const row = document.createElement("p");
  row.className = "row";
  for (const [name, act] of choices) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = row.childElementCount ? "button button--second" : "button";
    button.textContent = name;
    button.addEventListener("click", () => { box.close(); act(); });
    row.append(button);
  }
  box.append(line, row);
  box.addEventListener("close", () => box.remove());
  document.body.append(box);
  box.showModal();
}

const PATIENCE = 1000; // a database that does not answer keeps nobody signed in

/** @returns {Promise<Awaited<ReturnType<typeof mine>>>} */
async function leftHere() {
  const late = new Promise((done) => setTimeout(() => done([]), PATIENCE));
  try { return await Promise.race([mine(user), late]); } catch { return []; } // no database: nothing was recorded here
}

/** @param {HTMLFormElement} form */
async function leave(form) {
  if (!navigator.onLine) {
    ask("No connection: you cannot be signed out now. Close the browser, or try again when it is back.", [["Stay", () => {}]]);
    return;
  }
  const takes = await leftHere();
  if (!takes.length) { form.submit(); return; }
  const one = takes.length === 1;
  const words = `${one ? "A take that" : `${takes.length} takes that`} you recorded ${one ? "is" : "are"} on this device and nowhere else. `
    + `Nobody who signs in here after you sees ${one ? "it" : "them"}, and ${one ? "it waits" : "they wait"} here for you.`;
  ask(words, [
    ["Stay", () => {}],
    [one ? "Sign out, leave it here" : "Sign out, leave them here", () => form.submit()],
    [one ? "Delete it and sign out" : "Delete them and sign out", async () => {
      for (const take of takes) await drop(take.token);
      form.submit();
    }],
  ]);
}

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[action$='/logout/']"))) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    event.stopImmediatePropagation();
    leave(form);
  });
  form.dataset.asks = "";
}
