// The by-ear sheet: every field saves itself, undo takes back one step, what cannot be sent waits on this device.

import { kept } from "./device/kept.js";
import { FULL, OFFLINE, posted, REFUSED, SIGNED_OUT } from "./device/posted.js";
import { MORE, Turns } from "./device/turns.js";
import { hearBars } from "./hear_bar.js";

const WAIT = 600;
const WORDS = { [OFFLINE]: "no connection", [SIGNED_OUT]: "you are signed out; sign in again in another window", [FULL]: "the site's disk is full" };

const box = document.querySelector("[data-by-ear]");
if (box) start();

function start() {
  const data = JSON.parse(document.getElementById("by-ear-data").textContent);
  const fields = [...box.querySelectorAll("[data-field]")];
  const said = box.querySelector("[data-saved]");
  const undoButton = box.querySelector("[data-undo]");
  const token = document.querySelector("[data-compare] [name=csrfmiddlewaretoken]").value;
  const place = kept(box.dataset.keep);
  const onServer = new Map(fields.map((field) => [name(field), field.value]));
  const waiting = new Map(Object.entries(place.read({}))); // field → what the server has not
  const refused = new Map(); // field → what the server would not take
  let device = true; // whether this device holds what waits
  let current = null;
  const turns = new Turns(send);

  function name(field) { return `${field.dataset.field}:${field.dataset.bar}`; }
  function keep() { if (waiting.size) device = place.write(Object.fromEntries(waiting)); else place.drop(); }
  function find(key) { return fields.find((field) => name(field) === key); }

  // What a dead connection left on this device goes out first.
  for (const [key, text] of waiting) {
    const field = find(key);
    if (field && field.value !== text) field.value = text; else waiting.delete(key);
  }
  keep();
  if (waiting.size) soon(0);

  function soon(delay) {
    say("Saving");
    turns.soon(delay);
  }
  function typed(field, delay = WAIT) {
    waiting.set(name(field), field.value);
    keep();
    soon(delay);
  }
  function say(words, bad = false) { said.textContent = words; said.classList.toggle("saved--not", bad); }

  // One field at a time, the oldest first; what was refused waits until it is changed.
  async function send() {
    const [key, text] = [...waiting].find(([one, words]) => refused.get(one) !== words) ?? [];
    if (key === undefined) return waiting.size ? REFUSED : "";
    if (onServer.get(key) === text) { settle(key, text); return MORE; }
    const [field, bar] = key.split(":");
    const { why, answer } = await posted(box.dataset.saveUrl, new URLSearchParams({ bar, field, text }), { token });
    const body = answer ? await answer.json().catch(() => null) : null;
    if (why === REFUSED) refused.set(key, text);
    if (why || !body) return fail(why, body) === REFUSED ? MORE : why || OFFLINE;
    onServer.set(key, text);
    settle(key, text);
    echo(bar, body);
    undoButton.disabled = false;
    if (!waiting.size) say(`Saved ${body.saved}`);
    return MORE;
  }
  function settle(key, text) {
    if (waiting.get(key) !== text) return;
    waiting.delete(key);
    keep();
    if (!waiting.size) say("Saved");
  }
  function fail(why, body) {
    const words = WORDS[why] ?? body?.problem ?? "the server is busy";
    say(`Not saved: ${words}${device ? ", kept on this device" : "; leave this window open"}`, true);
    return why;
  }
  function echo(bar, body) {
    const place = box.querySelector(`[data-cell="${bar}"] [data-echo]`);
    place.textContent = body.problem || body.echo;
    place.classList.toggle("by-ear__echo--problem", Boolean(body.problem));
  }

  undoButton.addEventListener("click", async () => {
    await turns.now();
    const { why, answer } = await posted(box.dataset.undoUrl, new URLSearchParams(), { token });
    const body = answer && !why ? await answer.json().catch(() => null) : null;
    if (!body) { say("Not taken back: no connection", true); return; }
    undoButton.disabled = !body.more;
    if (!body.done) return;
    const field = find(`${body.field}:${body.bar}`);
    if (field) { field.value = body.text; onServer.set(name(field), body.text); echo(body.bar, body); field.focus(); }
    say("Taken back");
  });

  for (const field of fields) {
    field.addEventListener("input", () => typed(field));
    field.addEventListener("change", () => { if (waiting.has(name(field))) turns.soon(0); });
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
    if (!waiting.size) return;
    event.preventDefault();
    if (await turns.now()) event.target.submit();
  });

  // Hearing the bar one is in, over and over.
  hearBars(box, { times: data.times, bar: () => current?.dataset.bar ?? fields[0].dataset.bar, say: (words) => { said.textContent = words; } });
}
