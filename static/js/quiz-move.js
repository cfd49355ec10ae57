// Moving between fields without a mouse.

const middle = (field) => { const box = field.getBoundingClientRect(); return [box.left + box.width / 2, box.top + box.height / 2]; };

// The nearest field in the row above (-1) or below (1).
export function vertical(fields, from, way) {
  const [x, y] = middle(from);
  const rows = fields.map((field) => [field, ...middle(field)]).filter(([, , top]) => (top - y) * way > 8);
  if (!rows.length) return null;
  const nearest = Math.min(...rows.map(([, , top]) => Math.abs(top - y)));
  const row = rows.filter(([, , top]) => Math.abs(top - y) < nearest + 8);
  return row.reduce((best, now) => (Math.abs(now[1] - x) < Math.abs(best[1] - x) ? now : best))[0];
}

// The first field of the bar before or after.
export function barwise(fields, from, way) {
  const bars = [...new Set(fields.map((field) => field.dataset.bar))];
  const bar = bars[bars.indexOf(from.dataset.bar) + way];
  return fields.find((field) => field.dataset.bar === bar) ?? null;
}

export function goTo(field) {
  if (!field) return false;
  field.focus({ preventScroll: true }); // the page follows by itself, see quiz-view.js
  if (field.inputMode === "none") field.setSelectionRange(field.value.length, field.value.length); // the keypad writes at the end
  else field.select?.();
  return true;
}

// What a key means in a field; null when it is an ordinary key stroke.
export function keyTarget(event, fields) {
  const field = event.target;
  const at = fields.indexOf(field);
  const many = field.tagName === "TEXTAREA";
  const start = field.selectionStart === 0 && field.selectionEnd === 0;
  const all = field.selectionStart === 0 && field.selectionEnd === field.value.length;
  const end = field.selectionStart === field.value.length;
  if (event.altKey || event.metaKey || event.ctrlKey) return null;
  switch (event.key) {
    case "Enter": return many ? null : fields[at + (event.shiftKey ? -1 : 1)] ?? null;
    case "ArrowLeft": return !many && (start || all) && !event.shiftKey ? fields[at - 1] ?? null : null;
    case "ArrowRight": return !many && (end || all) && !event.shiftKey ? fields[at + 1] ?? null : null;
    case "ArrowUp": return many ? null : vertical(fields, field, -1);
    case "ArrowDown": return many ? null : vertical(fields, field, 1);
    case "PageUp": return barwise(fields, field, -1);
    case "PageDown": return barwise(fields, field, 1);
    default: return null;
  }
}
