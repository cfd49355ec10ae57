// Hearing one bar of a recording over and over, its pitch kept; at any speed where the box has a choice of it. `box` holds the sound
// and what is pressed to hear (templates/tunes/by_ear/_player.html, one; a review has one at every answer). `times` gives start and
// end of each written bar, `bar(button)` the one to hear; `changed(button)` is told what sounds, nothing when it stops.

export function hearBars(box, { times, bar, say, changed = undefined }) {
  const audio = box.querySelector("[data-sound]");
  if (!audio) return;
  let span = null;
  audio.preservesPitch = true;
  box.querySelector("[data-speed]")?.addEventListener("change", (event) => { audio.playbackRate = Number(event.target.value); });
  audio.addEventListener("timeupdate", () => { if (span && audio.currentTime >= span[1]) audio.currentTime = span[0]; });
  audio.addEventListener("pause", () => { span = null; changed?.(null); });

  function play(button) {
    const wanted = times[bar(button)];
    if (!wanted) return;
    if (span) { audio.pause(); return; }
    span = wanted;
    audio.currentTime = wanted[0];
    audio.play().then(() => changed?.(button), () => say("The sound could not be played here."));
  }
  box.addEventListener("click", (event) => {
    const button = event.target.closest("[data-hear]");
    if (button) play(button);
  });
  document.addEventListener("keydown", (event) => {
    if (event.altKey && event.key.toLowerCase() === "p") { event.preventDefault(); play(null); }
  });
}
