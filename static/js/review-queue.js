// Keys of the queue: arrows along the sheets, Space ticks, Enter opens, Ctrl+Enter says that what is ticked is reviewed.

import "./key-list.js";

const table = document.querySelector("[data-queue]");
const rows = table ? [...table.querySelectorAll("tbody tr")].filter((row) => row.querySelector("a")) : [];

function go(way) {
  const at = rows.indexOf(document.activeElement?.closest("tr"));
  const row = rows[at < 0 ? (way > 0 ? 0 : rows.length - 1) : at + way];
  row?.querySelector("a").focus();
}

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.shiftKey || event.target.closest?.("input:not([type=checkbox]), select, textarea, dialog")) return;
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
    if (!table?.querySelector("input:checked")) return;
    event.preventDefault();
    document.querySelector("[data-accept-ticked]")?.click();
  }
  if (event.ctrlKey || event.metaKey || !rows.length) return;
  const here = document.activeElement?.closest("tr");
  const on = here && rows.includes(here);
  if ((event.key === "ArrowDown" || event.key === "ArrowUp") && (on || document.activeElement === document.body)) {
    event.preventDefault();
    go(event.key === "ArrowDown" ? 1 : -1);
  }
  if (event.key === " " && on && event.target.type !== "checkbox") {
    event.preventDefault();
    here.querySelector("input[type=checkbox]")?.click();
  }
});

// Until here a key does nothing; a test, or a hand that is faster than the page, can tell.
if (table) table.dataset.ready = "";
