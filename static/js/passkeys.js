// Passkeys: a form that asks the device before it is sent. What the device answers goes along as `credential`.
// data-passkey says what is asked: "create" a new one, "get" one of this person, "fetch" any (what is asked comes from the form's address).

const WORDS = {
  NotAllowedError: "Nothing was chosen, or it took too long. Try again.",
  InvalidStateError: "This device has a passkey for your account already.",
  SecurityError: "Passkeys work when the site is opened by its name over https.",
  NotSupportedError: "This device cannot make a passkey that the site can read.",
};

async function options(form) {
  const kept = document.getElementById("passkey-options");
  if (form.dataset.passkey !== "fetch") return JSON.parse(kept.textContent);
  const answer = await fetch(form.action, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error("The site did not answer. Try again.");
  return (await answer.json()).request_options;
}

async function credential(form) {
  const asked = await options(form);
  if (form.dataset.passkey !== "create") return window.webauthnJSON.get(asked);
  // The library asks for a mere key; a device that can keep a passkey should.
  Object.assign(asked.publicKey.authenticatorSelection, { residentKey: "preferred", requireResidentKey: false });
  return window.webauthnJSON.create(asked);
}

async function send(form) {
  const said = form.querySelector("[data-passkey-said]");
  said.hidden = true;
  try {
    form.querySelector("[name='credential']").value = JSON.stringify(await credential(form));
    form.submit();
  } catch (error) {
    said.textContent = WORDS[error.name] ?? (error.name === "Error" ? error.message : "The device did not answer. Try again.");
    said.hidden = false;
    delete form.dataset.sent;
  }
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  if (!window.PublicKeyCredential) continue;
  form.hidden = false;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    send(form);
  });
}
