// What was just recorded and kept by the programme becomes the choice of the form that hands it in.
document.addEventListener("take:taken", (event) => {
  const field = document.querySelector("select[name=take]");
  if (!field) return;
  const { id, title } = event.detail;
  if (![...field.options].some((one) => one.value === String(id))) field.add(new Option(`${title}, just now`, id));
  field.value = String(id);
});
