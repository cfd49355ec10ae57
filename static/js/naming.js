// Choosing bars on a chart: a press and a second one, a drag, or arrows with Shift. What they make comes from the server.

const root = document.querySelector("[data-naming]");
const side = () => document.getElementById("naming");
const bars = [...(root?.querySelectorAll(".bar") ?? [])].filter((bar) => bar.dataset.played);
const number = (bar) => bar.dataset.played.split(" ")[0];
let anchor = null; // index of the bar that a choice begins at
let open = false; // one bar is chosen and the next press ends the choice
let drag = null;

function ends() {
  const at = (value) => bars.findIndex((bar) => number(bar) === value);
  return [at(side().dataset.from), at(side().dataset.to)];
}

function inside(index, [from, to]) {
  if (from < 0 || to < 0) return false;
  return from <= to ? index >= from && index <= to : index >= from || index <= to;
}

function paint(range) {
  const events = new Set(side().dataset.events.split(" "));
  const settled = range.join() === ends().join();
  bars.forEach((bar, index) => {
    const chosen = inside(index, range);
    bar.setAttribute("aria-selected", chosen);
    for (const slot of bar.querySelectorAll(".slot")) {
      slot.querySelector(".function")?.classList.toggle("is-chosen", settled ? events.has(slot.dataset.event) : chosen);
    }
  });
}

function ask(from, to) {
  const form = side().querySelector("form");
  form.elements.from.value = number(bars[from]);
  form.elements.to.value = number(bars[to]);
  form.elements.begin?.replaceChildren();
  form.elements.end?.replaceChildren();
  for (const tick of form.querySelectorAll("[name=opt]")) tick.checked = false;
  paint([from, to]);
  form.dispatchEvent(new Event("change", { bubbles: true }));
}

function press(index, onward) {
  if ((onward || open) && anchor !== null && index !== anchor) {
    open = false;
    ask(Math.min(anchor, index), Math.max(anchor, index));
  } else {
    anchor = index;
    open = true;
    ask(index, index);
  }
}

function stand(index) {
  bars.forEach((bar, at) => { bar.tabIndex = at === index ? 0 : -1; });
}

function near(index, way) {
  const here = bars[index].getBoundingClientRect();
  const rows = bars.map((bar, at) => ({ at, box: bar.getBoundingClientRect() }))
    .filter(({ box }) => way > 0 ? box.top > here.top + 8 : box.top < here.top - 8);
  if (!rows.length) return index;
  const row = way > 0 ? Math.min(...rows.map(({ box }) => box.top)) : Math.max(...rows.map(({ box }) => box.top));
  return rows.filter(({ box }) => Math.abs(box.top - row) < 8)
    .sort((a, b) => Math.abs(a.box.left - here.left) - Math.abs(b.box.left - here.left))[0].at;
}

function keys(event, index) {
  const to = {
    ArrowRight: () => Math.min(index + 1, bars.length - 1),
    ArrowLeft: () => Math.max(index - 1, 0),
    ArrowDown: () => near(index, 1),
    ArrowUp: () => near(index, -1),
    Home: () => 0,
    End: () => bars.length - 1,
  }[event.key]?.();
  if (to !== undefined && !event.altKey && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    if (event.shiftKey && anchor === null) anchor = index;
    stand(to);
    bars[to].focus();
    if (event.shiftKey) { open = false; ask(Math.min(anchor, to), Math.max(anchor, to)); }
  } else if (event.key === " " || event.key === "Enter") {
    event.preventDefault();
    press(index, event.shiftKey);
  }
}

function set(bar, index) {
  bar.setAttribute("role", "option");
  bar.addEventListener("keydown", (event) => keys(event, index));
  bar.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "mouse" || event.button) return;
    event.preventDefault();
    bar.focus();
    drag = { from: index, to: index };
  });
  bar.addEventListener("pointerenter", (event) => {
    if (!drag || event.pointerType !== "mouse") return;
    drag.to = index;
    if (drag.to !== drag.from) paint([Math.min(drag.from, drag.to), Math.max(drag.from, drag.to)]);
  });
  bar.addEventListener("click", (event) => {
    stand(index);
    if (event.pointerType === "mouse") return; // the drag has seen to it
    press(index, event.shiftKey);
  });
}

document.addEventListener("pointerup", (event) => {
  if (!drag) return;
  const { from, to } = drag;
  drag = null;
  if (from === to) press(from, event.shiftKey);
  else {
    anchor = from;
    open = false;
    ask(Math.min(from, to), Math.max(from, to));
  }
});

if (bars.length) {
  const chart = root.querySelector(".chart");
  chart.setAttribute("role", "listbox");
  chart.setAttribute("aria-multiselectable", "true");
  chart.setAttribute("aria-label", "Bars of the chart");
  chart.setAttribute("aria-describedby", "naming-how");
  for (const list of chart.querySelectorAll(".chart__bars")) list.setAttribute("role", "presentation");
  bars.forEach(set);
  const [from, to] = ends();
  stand(Math.max(from, 0));
  if (from >= 0) anchor = from;
  paint([from, to]);
}
const name = document.getElementById("naming-name");
function settle() {
  for (const button of root?.querySelectorAll("[data-no-script]") ?? []) button.hidden = true;
  if (name && "made" in side().dataset) name.hidden = false;
}
// What is named is what the address says: it goes along with every choice.
name?.addEventListener("submit", () => { name.action = location.href; });
settle();
document.addEventListener("htmx:after:swap", () => {
  settle();
  paint(ends());
});
