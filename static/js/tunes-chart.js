// Moving through a drawn chart by keyboard, and the panel that explains a chord.

const sheet = () => document.getElementById("sheet");
const panel = () => document.getElementById("reading");
let last = null; // the label whose panel is open

for (const button of document.querySelectorAll("[data-no-script]")) if (button.closest(".picker")) button.hidden = true;

function labels() {
  return [...(sheet()?.querySelectorAll("[data-function]") ?? [])];
}

function beside(label, way) {
  const all = labels();
  const here = label.getBoundingClientRect();
  const rows = all.filter((other) => {
    const box = other.getBoundingClientRect();
    return way > 0 ? box.top > here.bottom + 8 : box.bottom < here.top - 8;
  });
  if (!rows.length) return null;
  const edge = rows.map((other) => other.getBoundingClientRect().top);
  const row = way > 0 ? Math.min(...edge) : Math.max(...edge);
  const near = rows.filter((other) => Math.abs(other.getBoundingClientRect().top - row) < 24);
  const distance = (other) => Math.abs(other.getBoundingClientRect().left - here.left);
  return near.sort((a, b) => distance(a) - distance(b))[0];
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && panel()?.innerHTML) return close();
  const label = event.target.closest?.("[data-function]");
  if (!label || event.altKey || event.ctrlKey || event.metaKey) return;
  const all = labels();
  const at = all.indexOf(label);
  const next = {
    ArrowRight: () => all[at + 1],
    ArrowLeft: () => all[at - 1],
    ArrowDown: () => beside(label, 1),
    ArrowUp: () => beside(label, -1),
    Home: () => all[0],
    End: () => all.at(-1),
  }[event.key]?.();
  if (!next) return;
  event.preventDefault();
  next.focus();
});

function close() {
  panel().innerHTML = "";
  const again = last && document.querySelector(`[data-event="${last}"] [data-function]`);
  mark(null);
  again?.focus();
}

function mark(event) {
  for (const slot of document.querySelectorAll(".slot--open")) slot.classList.remove("slot--open");
  if (event !== null) document.querySelector(`.slot[data-event="${event}"]`)?.classList.add("slot--open");
}

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-close-panel]")) close();
});

document.addEventListener("htmx:after:swap", () => {
  for (const button of document.querySelectorAll(".picker [data-no-script]")) button.hidden = true;
  const body = panel()?.querySelector("[data-panel]");
  if (!body) return;
  last = body.dataset.event;
  mark(last);
  keepInSight(last);
  // The button that was pressed went with the old panel: whoever pressed it goes on from the new one.
  if (document.activeElement === document.body) panel().focus({ preventScroll: true });
});

// The panel lies over the lower part of the window: the bar that it speaks about stands above it.
function keepInSight(event) {
  const bar = document.querySelector(`.slot[data-event="${event}"]`)?.closest(".bar");
  if (!bar || panel().classList.contains("reading--page")) return;
  const room = window.innerHeight - panel().offsetHeight;
  const box = bar.getBoundingClientRect();
  if (box.top >= 0 && box.bottom <= room) return;
  window.scrollBy({ top: box.top - Math.max(8, (room - box.height) / 2), behavior: "instant" });
}

// The row that stays takes the title in once the head of the page has gone.
const ways = document.querySelector("[data-ways]");
if (ways) new IntersectionObserver(([head]) => ways.classList.toggle("ways--stuck", !head.isIntersecting && head.boundingClientRect.top < 0)).observe(document.querySelector(".tune-head"));
