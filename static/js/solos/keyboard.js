// What the keys of a computer and of a MIDI keyboard say while a solo is written. Letters act only while the staves have
// the focus (WCAG 2.2, 2.1.4), so that nothing is written into the music while something else is typed.

const LETTERS = { c: 0, d: 1, e: 2, f: 3, g: 4, a: 5, b: 6 };
const PLAIN = {
  r: "rest", t: "tie", x: "ghost", o: "guess", n: "natural", q: "respell", ".": "dot", "+": "longer", "-": "shorter", "#": "sharp", "=": "copyBar", "?": "keys", s: "speed", l: "loop",
  " ": "play", ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down", Backspace: "back", Delete: "erase", Home: "start", End: "end",
  Enter: "nextBar", PageDown: "systemDown", PageUp: "systemUp",
};
const SHIFTED = { ArrowUp: "octaveUp", ArrowDown: "octaveDown", Enter: "barBefore", " ": "mine" };
const WITH_CTRL = { z: "undo", y: "redo", Backspace: "emptyBar" };

export function listen(staves, act, { onMidi, say, button }) {
  staves.addEventListener("keydown", (event) => {
    const ctrl = event.ctrlKey || event.metaKey, key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.altKey) return;
    if (ctrl) { const name = key === "z" && event.shiftKey ? "redo" : WITH_CTRL[key]; if (name) { event.preventDefault(); act(name); } return; }
    if (key in LETTERS) { event.preventDefault(); act(event.shiftKey ? "insert" : "letter", LETTERS[key]); return; }
    if (["3", "5", "6", "7"].includes(key)) { event.preventDefault(); act("group", Number(key)); return; }
    const name = (event.shiftKey && SHIFTED[key]) || PLAIN[key];
    if (name) { event.preventDefault(); act(name); }
  });
  if (navigator.requestMIDIAccess && button) midi(onMidi, say, button);
}

function midi(onNote, say, button) {
  button.hidden = false;
  button.addEventListener("click", async () => {
    try {
      const access = await navigator.requestMIDIAccess();
      const inputs = [...access.inputs.values()];
      for (const input of inputs) input.onmidimessage = ({ data: [status, number, force] }) => { if ((status & 0xf0) === 0x90 && force > 0) onNote(number); };
      access.onstatechange = () => say(`MIDI keyboards: ${[...access.inputs.values()].map((input) => input.name).join(", ") || "none"}`);
      say(inputs.length ? `${inputs.map((input) => input.name).join(", ")} writes notes now, as they sound.` : "No MIDI keyboard is connected. Plug one in; it is found by itself.");
    } catch { say("This browser was not allowed to use a MIDI keyboard."); }
  });
}
