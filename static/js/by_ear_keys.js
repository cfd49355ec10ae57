// A chord that is played stands as typed in the bar one is in: a suggestion, to be edited like anything typed.
import { KeysBoard } from "./keys-board.js";

const box = document.querySelector("[data-keys-board][data-chord-url]");

if (box) {
  const chords = [...document.querySelectorAll('[data-field="chords"]')];
  const choices = box.querySelector("[data-keys-choices]");
  let current = chords[0];
  for (const field of document.querySelectorAll("[data-field]")) field.addEventListener("focus", () => { current = field; });

  const board = new KeysBoard(box, { onChord: (notes) => suggest(notes) });

  async function suggest(notes) {
    const address = new URL(box.dataset.chordUrl, window.location.href);
    address.searchParams.set("notes", notes.join(","));
    if (box.dataset.key) address.searchParams.set("key", box.dataset.key);
    try {
      const answer = await fetch(address, { headers: { Accept: "application/json" } });
      const found = await answer.json();
      if (!answer.ok) throw new Error(found.problem);
      const bass = current.dataset.field === "bass";
      const names = bass ? [found.note] : found.chords;
      if (!names.length) {
        board.say("These keys have no name as a chord. Play at least its 3rd with two notes more, or type it.");
        return;
      }
      const before = current.value.trim();
      write(before, names[0]);
      offer(before, names);
    } catch (error) {
      board.say(error.message || "No connection: type the chord.");
    }
  }

  function write(before, name) {
    current.value = before ? `${before} ${name}` : name;
    current.dispatchEvent(new Event("input", { bubbles: true }));
    board.say(`${name} stands in ${current.labels[0].textContent.replace(/^(Bass|Chords) of /, "")}. Edit it as you like.`);
  }

  // The other names of the same keys, one press away.
  function offer(before, names) {
    const field = current;
    choices.replaceChildren(...names.slice(1).map((name) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button button--quiet";
      button.textContent = `or ${name}`;
      button.addEventListener("click", () => { current = field; write(before, name); });
      return button;
    }));
  }
}
