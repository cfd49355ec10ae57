// The ledger: arrows go from cell to cell, a press says its signs in words. Without this the cell leads to the record.

const words = document.getElementById("cell-words");
const cells = [...document.querySelectorAll("[data-cell]")];
let from = null;

function beside(cell, key) {
  const here = cell.getBoundingClientRect();
  const across = key === "ArrowLeft" || key === "ArrowRight";
  const way = key === "ArrowRight" || key === "ArrowDown" ? 1 : -1;
  const gone = (box) => (across ? box.left - here.left : box.top - here.top) * way;
  const off = (box) => Math.abs(across ? box.top - here.top : box.left - here.left);
  return cells
    .map((other) => ({ other, box: other.getBoundingClientRect() }))
    .filter(({ box }) => gone(box) > 4 && off(box) < 8)
    .sort((a, b) => gone(a.box) - gone(b.box))[0]?.other;
}

function place(cell) {
  const box = cell.getBoundingClientRect();
  const room = { width: words.offsetWidth, height: words.offsetHeight };
  const below = box.bottom + room.height + 8 < innerHeight;
  words.style.setProperty("top", `${below ? box.bottom + 4 : Math.max(8, box.top - room.height - 4)}px`);
  words.style.setProperty("left", `${Math.max(8, Math.min(box.left, innerWidth - room.width - 8))}px`);
}

function show(cell) {
  from = cell;
  const [who, tune] = cell.firstElementChild.textContent.split(/, (.*)/s);
  words.querySelector("[data-who]").textContent = who;
  words.querySelector("[data-tune]").textContent = tune.split(": ")[0];
  words.querySelector("[data-record]").href = cell.href;
  words.querySelector("[data-words]").replaceChildren(
    ...[...cell.querySelectorAll(".cell__step")].map((step) => {
      const line = document.createElement("li");
      line.append(step.querySelector(".sign").cloneNode(), step.title);
      return line;
    }),
  );
  words.showPopover();
  if (matchMedia("(min-width: 40.01rem)").matches) place(cell);
  words.querySelector("[data-record]").focus({ preventScroll: true });
}

if (words?.showPopover) {
  words.addEventListener("toggle", (event) => {
    document.querySelector(".cell--open")?.classList.remove("cell--open");
    if (event.newState === "open") from?.classList.add("cell--open");
    else if (words.contains(document.activeElement) || document.activeElement === document.body) from?.focus();
  });
  document.addEventListener("click", (event) => {
    const cell = event.target.closest("[data-cell]");
    if (!cell || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    show(cell);
  });
}
document.addEventListener("keydown", (event) => {
  const cell = event.target.closest?.("[data-cell]");
  if (!cell || !event.key.startsWith("Arrow") || event.altKey || event.ctrlKey || event.metaKey) return;
  const next = beside(cell, event.key);
  if (!next) return;
  event.preventDefault();
  next.focus();
});
