// Single letters as commands: heard in one place, and turned off by one switch that is remembered on this device
// (WCAG 2.2, 2.1.4 Character Key Shortcuts).

const KEPT = "topform-letters";
const TYPING = "input:not([type=checkbox], [type=radio]), textarea, select, [contenteditable], dialog";

export function lettersOn() {
  try { return localStorage.getItem(KEPT) !== "off"; } catch { return true; }
}

/** Runs `table[letter]` when that letter is pressed outside a field, without Ctrl, Alt or Meta. */
export function letters(table) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || !lettersOn()) return;
    if (event.target.closest?.(TYPING)) return;
    const act = table[event.key.toLowerCase()];
    if (act) { event.preventDefault(); act(); }
  });
}

function offerSwitch() {
  for (const box of document.querySelectorAll("[data-letters]")) {
    box.checked = lettersOn();
    box.closest("label").hidden = false;
  }
}

offerSwitch();
document.addEventListener("take:mounted", offerSwitch); // a page that puts another in its place
document.addEventListener("change", ({ target: box }) => {
  if (!box.matches?.("[data-letters]")) return;
  try { localStorage.setItem(KEPT, box.checked ? "on" : "off"); } catch { box.checked = true; }
});
