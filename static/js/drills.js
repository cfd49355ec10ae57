// The page of one drill: two bars to a system where the page is narrow, and the player for each sheet that arrives.
import { attachPlayer } from "./player.js";

const narrow = window.matchMedia("(max-width: 44rem)");

function wanted() {
  return narrow.matches ? "2" : "4";
}

// Engraved again for the width, not shrunk: the server sets two bars to a system instead of four.
function fitSheet() {
  const field = document.querySelector("[data-per-system][name]");
  if (field) field.value = wanted();
  const sheet = document.querySelector("#sheet");
  if (!sheet || !sheet.querySelector("svg") || sheet.dataset.perSystem === wanted()) return;
  const address = new URL(window.location.href);
  address.searchParams.set("per_system", wanted());
  window.htmx.ajax("GET", address.pathname + address.search, { target: "#sheet", swap: "outerHTML" });
}

// The music comes first: the settings are a drawer, at the side of a desk, at the foot of a phone. Escape closes it.
const settings = document.querySelector("[data-drill-settings]");
if (settings) {
  const close = settings.querySelector("[data-drill-close]");
  const shut = () => { settings.open = false; settings.querySelector("summary").focus(); };
  close.hidden = false;
  close.addEventListener("click", shut);
  settings.addEventListener("keydown", (event) => { if (event.key === "Escape" && settings.open) shut(); });
  settings.addEventListener("toggle", () => { if (settings.open) settings.querySelector("input:checked, input:not([type=hidden]), select")?.focus(); });
}

let stopPlayer = () => {};

function prepare() {
  stopPlayer();
  const sheet = document.querySelector("#sheet");
  stopPlayer = sheet ? attachPlayer(sheet) : () => {};
  fitSheet();
}

document.addEventListener("htmx:after:swap", prepare);
narrow.addEventListener("change", fitSheet);
window.addEventListener("pagehide", () => stopPlayer());
prepare();
