// From an answer its bar is heard in the recording, one bar over and over until it is pressed again. The page asks for the sound,
// the times of the bars and which bar each question is about once it stands; without a recording, or without a connection, no
// button is shown.
import { hearBars } from "./hear_bar.js";

function hearAnswers(box, current) {
  const times = document.getElementById("bar-times");
  if (!times) return;
  const buttons = [...box.querySelectorAll("[data-hear]")];
  for (const button of buttons) {
    button.hidden = false;
    button.dataset.words = button.textContent;
  }
  hearBars(box, {
    times: JSON.parse(times.textContent),
    bar: (button) => (button ?? current())?.dataset.hear,
    say: (words) => { const button = current() ?? document.activeElement?.closest("[data-hear]"); if (button) button.textContent = words; },
    changed: (button) => { for (const one of buttons) one.textContent = one === button ? "Stop" : one.dataset.words; },
  });
}

/** `page` has the buttons `data-hear` and the address; `current()` gives the button that a key stands for, when the page has one
 * place open. */
export async function heardHere(page, current = () => null) {
  const answer = await fetch(page.dataset.hearAnswers).catch(() => null);
  const part = answer?.ok ? await answer.text() : "";
  if (!part.trim()) return;
  page.querySelector("[data-heard]").innerHTML = part;
  const bars = JSON.parse(document.getElementById("heard-bars").textContent);
  for (const button of page.querySelectorAll("[data-hear]")) {
    const bar = bars[button.dataset.question];
    if (bar === undefined) delete button.dataset.hear;
    else button.dataset.hear = bar;
  }
  hearAnswers(page, current);
}

const page = document.querySelector("[data-hear-answers]:not([data-on-chart])"); // the chart asks for itself
if (page) heardHere(page);
