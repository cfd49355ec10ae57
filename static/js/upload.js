// A file that was chosen is sent only when nothing else is missing, so that nobody waits for it twice. The server asks again.

for (const form of document.querySelectorAll("form[data-upload]")) {
  form.addEventListener("submit", (event) => {
    if (!form.querySelector("input[type=file]").files.length) return;
    const wrong = [...form.querySelectorAll("[data-missing]")].filter((field) => tell(field, isMissing(field)));
    if (!wrong.length) return;
    event.preventDefault();
    wrong[0].focus();
  });
  form.addEventListener("input", (event) => { if (event.target.dataset.missing && !isMissing(event.target)) tell(event.target, false); });
}

function isMissing(field) {
  return field.type === "checkbox" ? !field.checked : field.value.trim().length < Math.max(field.minLength, 1);
}

function tell(field, missing) {
  const box = field.closest(".field");
  const id = `${field.id}_error`;
  let said = document.getElementById(id);
  box.classList.toggle("field--wrong", missing);
  if (!missing) {
    said?.remove();
    field.removeAttribute("aria-invalid");
    return false;
  }
  if (!said) {
    said = Object.assign(document.createElement("p"), { id, className: "field__error" });
    said.setAttribute("role", "alert");
    box.append(said);
  }
  said.textContent = field.dataset.missing;
  field.setAttribute("aria-invalid", "true");
  const described = new Set((field.getAttribute("aria-describedby") || "").split(" ").filter(Boolean).concat(id));
  field.setAttribute("aria-describedby", [...described].join(" "));
  return true;
}
