// Hearing one bar of a recording over and over, at any speed, its pitch kept. `box` holds the player of
// templates/tunes/by_ear/_player.html; `times` gives start and end of each written bar, `bar()` the one to hear.

export function hearBars(box, { times, bar, say }) {
  const audio = box.querySelector("[data-sound]");
  if (!audio) return;
  let span = null;
  audio.preservesPitch = true;
  box.querySelector("[data-speed]").addEventListener("change", (event) => { audio.playbackRate = Number(event.target.value); });
  audio.addEventListener("timeupdate", () => { if (span && audio.currentTime >= span[1]) audio.currentTime = span[0]; });
  audio.addEventListener("pause", () => { span = null; });

  function play() {
    const wanted = times[bar()];
    if (!wanted) return;
    if (span) { audio.pause(); return; }
    span = wanted;
    audio.currentTime = wanted[0];
    audio.play().catch(() => say("The sound could not be played here."));
  }
  box.querySelector("[data-hear]").addEventListener("click", play);
  document.addEventListener("keydown", (event) => {
    if (event.altKey && event.key.toLowerCase() === "p") { event.preventDefault(); play(); }
  });
}
