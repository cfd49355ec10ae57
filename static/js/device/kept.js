// What stays on this device until the server has it. Storage may be full or switched off: nothing here throws, and the page,
// which still holds what was typed, is told whether the device holds it too.

/** A place on the device under one name. Names hold the id of what is written (an attempt, a draft), which is one person's. */
export function kept(name) {
  return {
    name,
    /** What lies there, or `empty`; what cannot be read counts as empty. */
    read(empty = null) {
      try { return JSON.parse(localStorage.getItem(name) ?? "null") ?? empty; } catch { return empty; }
    },
    /** Whether the device holds it now. */
    write(value) {
      try { localStorage.setItem(name, JSON.stringify(value)); return true; } catch { return false; }
    },
    drop() {
      try { localStorage.removeItem(name); } catch { /* switched off: there is nothing to drop */ }
    },
  };
}

/** The names on this device that begin so. */
export function names(prefix) {
  try {
    return Array.from({ length: localStorage.length }, (_, at) => localStorage.key(at)).filter((name) => name.startsWith(prefix));
  } catch { return []; }
}
