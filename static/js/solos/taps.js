// Tapping along: while the recording plays once, the space bar, the pad on the page or a MIDI keyboard say when a note begins.

export class Taps {
  stop; pad; button; say; play; audio;

  /** `play(end)` plays the loop once and calls `end(place)` when it is over; `say(words)`. */
  constructor({ audio, button, pad, say, play, stop }) {
    Object.assign(this, { audio, button, pad, say, play, stop });
    this.on = false;
    this.onsets = [];
    if (!button || !pad) return;
    button.addEventListener("click", () => (this.on ? this.stop() : this.start()));
    pad.addEventListener("pointerdown", (event) => { event.preventDefault(); this.note(null); });
    document.addEventListener("keydown", (event) => {
      if (!this.on) return;
      if (event.key === "Escape") { event.preventDefault(); this.stop(); }
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      event.stopPropagation();
      if (!event.repeat) this.note(null);
    }, true);
  }
  start() {
    this.on = true;
    this.onsets = [];
    this.pad.hidden = false;
    this.button.textContent = "Stop tapping";
    this.button.setAttribute("aria-pressed", "true");
    this.say("Tap every note that you hear. At half speed it is easier; Escape stops.");
    this.play((place) => this.end(place));
    this.pad.focus({ preventScroll: false });
  }
  /** Seconds of the recording, so that the speed makes no difference. */
  note(midi) {
    if (!this.on || !this.audio || this.audio.paused) return;
    this.onsets.push(midi === null ? { at: round(this.audio.currentTime) } : { at: round(this.audio.currentTime), midi });
    this.say(`${this.onsets.length} note${this.onsets.length > 1 ? "s" : ""}`);
  }
  end(place) {
    this.on = false;
    this.pad.hidden = true;
    this.button.textContent = "Tap the notes";
    this.button.setAttribute("aria-pressed", "false");
    place(this.onsets);
  }
}
const round = (second) => Math.round(second * 1000) / 1000;
