// Keys of the queue: along the sheets, open, tick, accept what is ticked, undo.

import { letters } from "./keys.js";
import "./key-list.js";

const table = document.querySelector("[data-queue]");
const rows = table ? [...table.querySelectorAll("tbody tr")].filter((row) => row.querySelector("a")) : [];

function go(way) {
  const at = rows.indexOf(document.activeElement?.closest("tr"));
  const row = rows[at < 0 ? (way > 0 ? 0 : rows.length - 1) : at + way];
  row?.querySelector("a").focus();
}

letters({
  j: () => go(1),
  k: () => go(-1),
  x: () => document.activeElement?.closest("tr")?.querySelector("input[type=checkbox]")?.click(),
  a: () => { if (table?.querySelector("input:checked")) document.querySelector("[data-accept-ticked]")?.click(); },
  u: () => document.querySelector("[data-undo]")?.click(),
});

// Until here a key does nothing; a test, or a hand that is faster than the page, can tell.
if (table) table.dataset.ready = "";
