// Comments at a time: jump there, or take the time from where the recording stands.

const sound = () => document.querySelector("audio");

document.addEventListener("click", (event) => {
  const jump = event.target.closest("[data-seek]");
  if (jump) {
    const player = jump.closest("article, main").querySelector("audio");
    if (player) { player.currentTime = Number(jump.dataset.seek); player.play().catch(() => player.focus()); }
  }
  const now = event.target.closest("[data-now]");
  if (now && sound()) document.querySelector(now.dataset.now).value = sound().currentTime.toFixed(1);
});
if (sound()) for (const button of document.querySelectorAll("[data-now]")) button.hidden = false;
