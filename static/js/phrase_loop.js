// Hearing one phrase of a recording over and over, with a gap as long as the phrase to sing or play it back.

const box = document.querySelector("[data-phrases]");
const audio = box?.querySelector("[data-sound]");
if (audio) {
  const gap = box.querySelector("[data-gap]");
  let button = null;
  let waiting = 0;
  audio.preservesPitch = true;
  box.querySelector("[data-speed]").addEventListener("change", (event) => { audio.playbackRate = Number(event.target.value); });

  const span = () => [Number(button.dataset.from), Number(button.dataset.to)];

  function stop() {
    clearTimeout(waiting);
    button?.setAttribute("aria-pressed", "false");
    button = null;
    audio.pause();
  }

  function again() {
    audio.currentTime = span()[0];
    audio.play().catch(stop);
  }

  audio.addEventListener("timeupdate", () => {
    if (!button || audio.paused || audio.currentTime < span()[1]) return;
    const [from, to] = span();
    if (!gap.checked) { again(); return; }
    audio.pause();
    waiting = setTimeout(() => { if (button) again(); }, ((to - from) / audio.playbackRate) * 1000);
  });

  box.addEventListener("click", (event) => {
    const pressed = event.target.closest("[data-from]");
    if (!pressed) return;
    const same = pressed === button;
    stop();
    if (same) return;
    button = pressed;
    button.setAttribute("aria-pressed", "true");
    again();
  });
}
