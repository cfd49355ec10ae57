// A form that met a busy database is sent again by itself, a few times and slowly; then the button is left to the person.

const MOST = 6;
const form = document.querySelector("form[data-again]");
const said = document.querySelector("[data-again-said]");
const name = `topform-again ${form.action}`;
const tries = Number(read()) || 0;

if (tries < MOST) {
  said.textContent = "It is sent again by itself in a few seconds.";
  setTimeout(() => { keep(tries + 1); form.requestSubmit(); }, (Number(form.dataset.again) + tries * 2) * 1000);
} else {
  keep(0);
  said.textContent = "It was sent again several times. Wait a little, then try the button.";
}

function read() { try { return sessionStorage.getItem(name); } catch { return null; } }
function keep(value) { try { sessionStorage.setItem(name, String(value)); } catch { /* without storage the button is there */ } }
