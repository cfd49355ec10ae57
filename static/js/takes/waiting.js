// Sends what was chosen on another page, or before a tab was closed; on the list of takes, shows what is still here.
import { drop, mine, Sender } from "./store.js";

const box = document.querySelector("[data-takes-waiting]");
const user = document.body.dataset.user ?? box?.dataset.user;

function line(row, words) {
  const item = document.createElement("li");
  const title = document.createElement("span");
  title.className = "list__title";
  title.textContent = row.title;
  const state = document.createElement("span");
  state.className = "quiet small";
  state.dataset.state = row.token;
  state.textContent = words;
  const sound = document.createElement("audio");
  sound.controls = true;
  sound.src = URL.createObjectURL(row.blob);
  const away = document.createElement("button");
  away.type = "button";
  away.className = "button button--quiet";
  away.textContent = "Delete";
  away.addEventListener("click", async () => { await drop(row.token); item.remove(); });
  item.append(title, state, sound, away);
  return item;
}

const STATES = { kept: "not chosen", chosen: "on its way", refused: "" };

async function begin() {
  if (!user || document.querySelector("[data-recorder]")) return; // a recorder sends by itself
  const sender = new Sender(user, (row, state, words) => {
    const shown = box?.querySelector(`[data-state="${row.token}"]`);
    if (shown) shown.textContent = state === "taken" ? "kept: it stands in the list when you open this page again" : state === "sending" ? "going up" : words;
  });
  if (box) {
    const rows = await mine(user);
    box.hidden = !rows.length;
    box.querySelector("[data-waiting-list]").replaceChildren(...rows.map((row) => line(row, row.problem || STATES[row.state])));
  }
  await sender.flush();
}

begin().catch(() => { if (box) box.hidden = true; }); // no database in this browser: nothing waits
