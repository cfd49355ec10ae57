// The by-ear sheet: every field saves itself, undo takes back one step, what cannot be sent waits on this device.

import { hearBars } from "./hear_bar.js";

const box = document.querySelector("[data-by-ear]");
if (box) start();

function start() {
  const data = JSON.parse(document.getElementById("by-ear-data").textContent);
  const fields = [...box.querySelectorAll("[data-field]")];
  const said = box.querySelector("[data-saved]");
  const undoButton = box.querySelector("[data-undo]");
  const token = document.querySelector("[data-compare] [name=csrfmiddlewaretoken]").value;
  const kept = box.dataset.keep;
  const timers = new Map();
  const onServer = new Map(fields.map((field) => [name(field), field.value]));
  let queue = Promise.resolve();
  let current = null;

  function name(field) { return `${field.dataset.field}:${field.dataset.bar}`; }
  function waiting() { try { return JSON.parse(localStorage.getItem(kept) ?? "{}"); } catch { return {}; } }
  function keep(entries) { if (Object.keys(entries).length) localStorage.setItem(kept, JSON.stringify(entries)); else localStorage.removeItem(kept); }
  function find(key) { return fields.find((field) => name(field) === key); }

  // What a dead connection left on this device goes out first.
  for (const [key, text] of Object.entries(waiting())) { const field = find(key); if (field && field.value !== text) { field.value = text; soon(field, 0); } }

  function soon(field, delay = 600) {
    const entries = waiting();
    entries[name(field)] = field.value;
    keep(entries);
    said.textContent = "Saving";
    said.classList.remove("saved--not");
    clearTimeout(timers.get(field));
    timers.set(field, setTimeout(() => { queue = queue.then(() => send(field)); }, delay));
  }

  async function post(url, values) {
    const answer = await fetch(url, { method: "POST", body: new URLSearchParams(values), headers: { "X-CSRFToken": token } });
    return { ok: answer.ok, body: await answer.json() };
  }

  async function send(field) {
    timers.delete(field);
    const text = field.value;
    if (onServer.get(name(field)) === text) { settle(field, text); if (!timers.size) said.textContent = said.textContent === "Saving" ? "Saved" : said.textContent; return; }
    try {
      const { ok, body } = await post(box.dataset.saveUrl, { bar: field.dataset.bar, field: field.dataset.field, text });
      if (!ok) { fail(body.problem); return; }
      onServer.set(name(field), text);
      settle(field, text);
      echo(field.dataset.bar, body);
      undoButton.disabled = false;
      if (!Object.keys(waiting()).length) said.textContent = `Saved ${body.saved}`;
    } catch { fail("no connection, kept on this device"); setTimeout(() => { if (onServer.get(name(field)) !== field.value) soon(field, 0); }, 4000); }
  }
  function settle(field, text) { const entries = waiting(); if (entries[name(field)] === text) { delete entries[name(field)]; keep(entries); } }
  function fail(why) { said.textContent = `Not saved: ${why}`; said.classList.add("saved--not"); }
  function echo(bar, body) {
    const place = box.querySelector(`[data-cell="${bar}"] [data-echo]`);
    place.textContent = body.problem || body.echo;
    place.classList.toggle("by-ear__echo--problem", Boolean(body.problem));
  }

  undoButton.addEventListener("click", async () => {
    for (const [field, timer] of timers) { clearTimeout(timer); queue = queue.then(() => send(field)); }
    await queue;
    try {
      const { body } = await post(box.dataset.undoUrl, {});
      undoButton.disabled = !body.more;
      if (!body.done) return;
      const field = find(`${body.field}:${body.bar}`);
      if (field) { field.value = body.text; onServer.set(name(field), body.text); echo(body.bar, body); field.focus(); }
      said.textContent = "Taken back";
    } catch { fail("no connection; nothing was taken back"); }
  });

  for (const field of fields) {
    field.addEventListener("input", () => soon(field));
    field.addEventListener("change", () => soon(field, 0));
    field.addEventListener("focus", () => { current = field; });
    field.addEventListener("keydown", (event) => {
      const same = fields.filter((other) => other.dataset.field === field.dataset.field);
      const at = same.indexOf(field);
      const end = field.selectionStart === field.value.length && field.selectionEnd === field.value.length;
      const head = field.selectionStart === 0 && field.selectionEnd === 0;
      const to = event.key === "Enter" || event.key === "ArrowDown" || (event.key === "ArrowRight" && end) ? at + 1 : event.key === "ArrowUp" || (event.key === "ArrowLeft" && head) ? at - 1 : null;
      if (to === null) return;
      event.preventDefault();
      same[to]?.focus();
    });
  }

  document.querySelector("[data-compare]").addEventListener("submit", async (event) => {
    if (!timers.size && !Object.keys(waiting()).length) return;
    event.preventDefault();
    for (const [field, timer] of timers) { clearTimeout(timer); queue = queue.then(() => send(field)); }
    await queue;
    if (!Object.keys(waiting()).length) event.target.submit();
  });

  // Hearing the bar one is in, over and over.
  hearBars(box, { times: data.times, bar: () => current?.dataset.bar ?? fields[0].dataset.bar, say: (words) => { said.textContent = words; } });
}
