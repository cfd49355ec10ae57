// Assigning: only the chosen steps are shown, in an order of one's own, with the dates that the rhythm gives. Without this
// script every kind of step stands there with its tick.

const rows = document.querySelector("[data-steps]");
const tick = (row) => row.querySelector('.step-row__on input[type="checkbox"]');
const chosen = () => [...rows.children].filter((row) => tick(row)?.checked);
const first = document.querySelector('[name="all_due"]');
const rhythm = document.querySelector('[name="rhythm"]');
const say = (date) => date.toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "short", timeZone: "UTC" }).replace(",", "");

const add = document.createElement("div");
add.className = "steps-add";
add.innerHTML = '<div><label for="add-step">Add a step</label><select id="add-step"></select></div><button type="button" class="button button--second">Add</button> <button type="button" class="button button--quiet" hidden>Undo</button><span role="status" class="quiet small"></span>';
const [menu, press, undo, told] = [add.querySelector("select"), ...add.querySelectorAll("button"), add.querySelector("[role]")];
let gone = null;

function show() {
  let due = first?.value ? new Date(`${first.value}T12:00:00Z`) : null;
  chosen().forEach((row, place) => {
    row.querySelector('input[name$="-place"]').value = place;
    const own = row.querySelector('input[name$="-due"]').value;
    const apart = Number(rhythm?.value || 0), mine = own ? new Date(`${own}T12:00:00Z`) : due;
    row.querySelector("[data-when]").textContent = `${place + 1}. ${mine ? `due ${say(mine)}` : "no date"}${own ? " (its own)" : ""}`;
    if (mine && apart) due = new Date(mine.getTime() + apart * 864e5);
  });
  menu.replaceChildren(...[...rows.children].filter((row) => !tick(row).checked).map((row) => new Option(row.dataset.choice || row.dataset.step, tick(row).name)));
  add.firstElementChild.hidden = press.hidden = !menu.options.length;
}

function move(row, by) {
  const all = chosen(), to = all[all.indexOf(row) + by];
  if (!to) return;
  if (by < 0) to.before(row); else to.after(row);
  show();
  row.querySelector(`[data-move="${by}"]`).focus();
}

for (const row of rows.children) {
  const tools = document.createElement("div"), name = row.dataset.step;
  tools.className = "step-row__tools";
  tools.innerHTML = '<span data-when></span> <button type="button" class="button button--quiet" data-move="-1">↑</button><button type="button" class="button button--quiet" data-move="1">↓</button><button type="button" class="button button--quiet" data-out>×</button>';
  for (const [what, words] of [['[data-move="-1"]', "Earlier"], ['[data-move="1"]', "Later"], ["[data-out]", "Take out"]]) tools.querySelector(what).setAttribute("aria-label", `${words}: ${name}`);
  row.append(tools);
  for (const button of tools.querySelectorAll("[data-move]")) button.addEventListener("click", () => move(row, Number(button.dataset.move)));
  tools.querySelector("[data-out]").addEventListener("click", () => {
    tick(row).checked = false;
    gone = row; undo.hidden = false; told.textContent = `${name} is taken out.`;
    show();
    undo.focus();
  });
  row.addEventListener("keydown", (event) => {
    if (!event.altKey || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    move(row, event.key === "ArrowUp" ? -1 : 1);
  });
}
press.addEventListener("click", () => {
  const row = [...rows.children].find((one) => tick(one).name === menu.value);
  tick(row).checked = true;
  rows.append(row);
  told.textContent = `${row.dataset.step} is added.`;
  show();
  row.querySelector('input[name$="-title"]').focus();
});
undo.addEventListener("click", () => { tick(gone).checked = true; undo.hidden = true; told.textContent = ""; show(); gone.querySelector("[data-out]").focus(); });
const places = (row) => { const place = row.querySelector('input[name$="-place"]').value; return place === "" ? 999 : Number(place); };
rows.append(...[...rows.children].sort((a, b) => places(a) - places(b)));
rows.after(add);
rows.classList.add("chosen-only");
for (const field of [first, rhythm, rows]) field?.addEventListener("input", show);
show();
