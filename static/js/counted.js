// A form with ticks says on its button how many are ticked.
for (const form of document.querySelectorAll("[data-counted]")) {
  const count = form.querySelector("[data-count]");
  const say = () => { count.textContent = `(${form.querySelectorAll('input[type="checkbox"]:checked').length})`; };
  form.addEventListener("change", say);
  say();
}
