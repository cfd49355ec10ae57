// Both ways to hear a bar again: as the chart has it, as the other band played it. The buttons can be pressed as soon as this
// is there; the band itself is fetched with the first press.

const list = document.querySelector("[data-again]");

if (list) {
  const { swings } = JSON.parse(document.querySelector("#band-setting").textContent);
  const problem = document.querySelector("[data-problem]");
  let once = null;
  for (const button of list.querySelectorAll("[data-hear]")) button.disabled = false;

  list.addEventListener("click", async (event) => {
    const button = event.target.closest("[data-hear]");
    if (!button) return;
    const address = new URL(list.dataset.again, window.location.href);
    const asked = { shown: list.dataset.shown, bar: button.dataset.hear, way: button.dataset.way, key: list.dataset.key };
    for (const [name, value] of Object.entries(asked)) if (value) address.searchParams.set(name, value);
    problem.hidden = true;
    try {
      const answer = await fetch(address, { headers: { Accept: "application/json" } });
      const sound = await answer.json();
      if (!answer.ok) throw new Error(sound.problem);
      once ??= new (await import("./band-once.js")).Once();
      await once.play(sound, { tempo: Number(list.dataset.tempo), swings });
      list.dataset.played = `${button.dataset.hear}:${button.dataset.way}`;
    } catch (error) {
      problem.textContent = error.message || "This could not be fetched. Try again.";
      problem.hidden = false;
    }
  });
}
