// Says what "as soon as it is handed in" means while more than one attempt is allowed.

for (const part of document.querySelectorAll("[data-release]")) {
  const [goes, when] = [part.querySelector("[name=attempts_allowed]"), part.querySelector("[name=release]")];
  const note = part.querySelector("[data-release-note]");
  const tell = () => { note.hidden = !(when.value === "hand-in" && Number(goes.value) > 1); };
  goes.addEventListener("input", tell);
  when.addEventListener("change", tell);
  tell();
}
