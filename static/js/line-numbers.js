// Numbers beside the lines of a text box, so that "line 12" can be found. The text box scrolls, the numbers follow.
for (const box of document.querySelectorAll("textarea[data-line-numbers]")) {
  const frame = document.createElement("div");
  const numbers = document.createElement("pre");
  frame.className = "numbered";
  numbers.className = "numbered__lines";
  numbers.setAttribute("aria-hidden", "true");
  box.replaceWith(frame);
  frame.append(numbers, box);
  const count = () => {
    const lines = box.value.split("\n").length;
    numbers.textContent = Array.from({ length: lines }, (_, line) => line + 1).join("\n");
    numbers.scrollTop = box.scrollTop;
  };
  box.addEventListener("input", count);
  box.addEventListener("scroll", () => { numbers.scrollTop = box.scrollTop; });
  count();
}
