// What was understood under a chord whose notes are asked, a slot a note; where it is known how many are asked, the open ones too.
const NAMES = /^(?:[A-G](?:♭|♯|♮|𝄫|𝄪|b|#)*[\s,]*)+$/u;

/** Write what was heard into `echo`. `asked`: how many notes, "0" where that is not told; none for answers that are no notes.
 *  Words that are no names of notes stay a sentence. */
export function slots(echo, { text, ok }, asked) {
  const names = text.trim();
  if (asked === undefined || !ok || (names && !NAMES.test(names))) { echo.textContent = text; return; }
  const notes = names.split(/[\s,]+/).filter(Boolean);
  const row = document.createElement("span");
  row.className = "ask__notes";
  notes.forEach((name, at) => row.append(...(at ? [" "] : []), slot(name)));
  for (let open = notes.length; open < Number(asked); open += 1) row.append(slot(""));
  echo.replaceChildren(row);
}

function slot(name) {
  const made = document.createElement("b");
  made.className = name ? "ask__note" : "ask__note ask__note--empty";
  made.textContent = name;
  return made;
}
