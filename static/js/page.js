// What every page does: the light/dark switch sets itself, a refused form is taken up where it is wrong, forms do not send twice.

const form = document.querySelector("[data-theme-switch]");
if (form) {
  form.querySelector("[data-no-script]")?.remove();
  form.querySelector("select").addEventListener("change", (event) => {
    document.documentElement.dataset.theme = event.target.value;
    fetch(form.action, { method: "POST", body: new FormData(form), redirect: "manual" });
  });
}

// A recording that was chosen on another page, and did not get there yet, goes on its way from any page.
try { if (localStorage.getItem("topform-takes-waiting")) import("./takes/waiting.js"); } catch { /* no storage: nothing waits */ }

if (!document.body.dataset.user) import("./device/leaving.js").then(({ leave }) => leave());
else if (document.querySelector("form[action$='/logout/']")) import("./device/sign-out.js");

// Today's plan without a connection; on a page where nobody is signed in, what was kept of it goes.
if ("serviceWorker" in navigator) import("./offline.js");

if (!document.querySelector("[autofocus]")) document.querySelector("main [aria-invalid='true']")?.focus();

// A second click while the first is on its way would send the form twice.
document.addEventListener("submit", (event) => {
  const sent = event.target;
  if (sent.dataset.sent && sent.method === "post") event.preventDefault();
  else if (sent.method === "post" && !event.defaultPrevented && !sent.hasAttribute("data-theme-switch")) {
    sent.dataset.sent = "1";
    setTimeout(() => delete sent.dataset.sent, 4000);
  }
});
// A part of the page that the server could not save stays as it is, and the reason is said above it.
function notSaved(words) {
  const box = document.createElement("div");
  box.className = "notice notice--error";
  const line = document.createElement("p");
  line.textContent = words;
  box.append(line);
  document.getElementById("messages")?.replaceChildren(box);
  box.scrollIntoView({ block: "nearest" });
}
document.addEventListener("htmx:response:error", (event) => {
  const { response, text } = event.detail.ctx;
  const said = response.headers.get("Content-Type")?.startsWith("text/plain") && text;
  if (response.status >= 500) notSaved(said || "Something broke on our side. What you typed is still here.");
});
document.addEventListener("htmx:error", (event) => {
  if (event.detail.ctx && !event.detail.ctx.response) notSaved("No connection. Nothing is lost; try again when it is back.");
});
window.addEventListener("pageshow", () => {
  for (const sent of document.querySelectorAll("form[data-sent]")) delete sent.dataset.sent;
});
