// A comment at a bar and beat: typed, one of the quick words, or spoken. What was typed stays until the server has it.
import { newId } from "./ids.js";
import { spotWords } from "./time.js";

const LONGEST = 60; // seconds
const byThumb = () => window.matchMedia("(pointer: coarse)").matches;

// Posts a form in the background; { html, places } of the comments as they stand, or { problem }.
export async function sendPart(address, body) {
  try {
    const answer = await fetch(address, { method: "POST", body, headers: { "X-Topform": "part" }, redirect: "manual" });
    if (answer.type === "opaqueredirect" || answer.status === 403) return { problem: "Not kept: you are signed out, or this take is no longer yours to comment. What you typed is still here." };
    if (answer.status === 507) return { problem: "Not kept: the programme's disk is full. What you typed is still here; tell the director." };
    if (answer.status >= 500) return { problem: "Not kept: the server could not take it just now. Try again." };
    const html = await answer.text();
    if (answer.ok) return { html, places: JSON.parse(answer.headers.get("X-Topform-Places") ?? "[]") };
    const words = new DOMParser().parseFromString(html, "text/html").querySelector("[role=alert]")?.textContent;
    return { problem: words || "Not kept. Look at what is written, then try again." };
  } catch {
    return { problem: "Not kept: no connection. What you typed is still here; try again when there is one." };
  }
}

let current = null;

// Keeps what was typed or spoken and not yet sent, for who goes on to the next take: true, or a promise that is false when
// it could not be kept.
export function keepUnsent() {
  const form = current;
  if (!form?.form.isConnected || form.form.hidden) return true;
  if (!form.text.value.trim() && !form.spoken && !form.recorder) return true;
  form.page.was = false; // it does not play on
  return form.keep();
}

export class CommentForm {
  constructor(page) {
    current = this;
    this.page = page;
    this.form = page.find("comment-form");
    this.text = this.form.querySelector("textarea");
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.keep(); });
    this.form.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.leave();
      if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) { event.preventDefault(); event.stopPropagation(); this.keep(); }
    });
    this.form.querySelector("[data-leave]").addEventListener("click", () => this.leave());
    for (const button of this.form.querySelectorAll("[data-quick]")) {
      button.addEventListener("click", () => {
        const typed = this.text.value.trim();
        this.text.value = [typed, button.dataset.quick].filter(Boolean).join(". ");
        if (byThumb() && !typed && !this.spoken && !this.recorder) this.keep(); // one press, as the key of a quick word is
        else this.text.focus();
      });
    }
    const speak = this.form.querySelector("[data-speak]");
    if (!navigator.mediaDevices?.getUserMedia || !window.MediaRecorder) speak.hidden = true;
    speak.addEventListener("click", () => (this.recorder ? this.recorder.stop() : this.speak()));
  }

  open(spot) {
    if (this.form.hidden || !this.text.value.trim()) this.place(spot);
    this.form.hidden = false;
    // Under a thumb the keyboard of the screen comes only when somebody wants to type: it would cover the quick words.
    if (byThumb()) this.form.focus({ preventScroll: true });
    else this.text.focus({ preventScroll: true });
    this.besideTheBar();
  }

  // The bar that is spoken of stays in sight: above the form where that lies over the end of the window, else the form is shown.
  besideTheBar() {
    const system = this.page.staff.cells[this.spot.bar]?.system.getBoundingClientRect();
    const form = this.form.getBoundingClientRect();
    if (getComputedStyle(this.form).position !== "sticky" || !system) this.form.scrollIntoView({ block: "nearest" });
    else if (system.top < 0 || system.bottom > form.top) window.scrollBy({ top: system.bottom - form.top > system.top ? system.top - 8 : system.bottom - form.top + 8, behavior: "instant" });
  }

  place(spot) {
    this.spot = spot;
    for (const name of ["chorus", "bar", "beat"]) this.form.elements[name].value = spot[name];
    this.form.elements.token.value = newId();
    const { data } = this.page;
    this.form.querySelector("[data-form-where]").textContent = spotWords(data.bars, data.choruses, spot).replace(/^[BCP]/, (letter) => letter.toLowerCase());
    this.page.staff.show(spot);
  }

  async keep() {
    if (this.recorder) {
      await new Promise((done) => { this.recorder.addEventListener("stop", done, { once: true }); this.recorder.stop(); });
      await Promise.resolve();
    }
    const body = new FormData(this.form);
    if (this.spoken) body.set("spoken", this.spoken, "spoken");
    const button = this.form.querySelector("[data-keep]");
    button.disabled = true;
    const answer = await sendPart(this.form.action, body);
    button.disabled = false;
    if (!this.page.said(answer)) { this.text.focus(); return false; }
    this.page.find("problem").hidden = true;
    this.close();
    if (this.page.was) this.page.start();
    return true;
  }

  // One press while it plays on.
  async quick(words, spot) {
    const body = new FormData();
    body.set("csrfmiddlewaretoken", this.form.elements.csrfmiddlewaretoken.value);
    for (const name of ["chorus", "bar", "beat"]) body.set(name, spot[name]);
    body.set("text", words);
    body.set("token", newId());
    this.page.said(await sendPart(this.form.action, body));
  }

  leave() {
    this.close();
    if (this.page.was) this.page.start();
  }

  close() {
    this.recorder?.stop();
    this.form.hidden = true;
    this.text.value = "";
    this.spoken = null;
    this.say("");
    this.page.find("play")?.focus({ preventScroll: true });
  }

  say(words) {
    this.form.querySelector("[data-spoken]").textContent = words;
  }

  async speak() {
    const button = this.form.querySelector("[data-speak]");
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: true });
    } catch {
      this.say("The microphone is not open to this page: allow it in the browser, or type.");
      return;
    }
    const parts = [];
    const recorder = new MediaRecorder(this.stream, { audioBitsPerSecond: 48000 });
    this.recorder = recorder;
    recorder.addEventListener("dataavailable", (event) => parts.push(event.data));
    recorder.addEventListener("stop", () => {
      this.stream.getTracks().forEach((track) => track.stop());
      clearInterval(this.clock);
      this.recorder = null;
      this.spoken = new Blob(parts, { type: recorder.mimeType });
      button.textContent = "Speak again";
      this.say(`Spoken, ${Math.round((performance.now() - begun) / 1000)} s. It is kept with the comment.`);
    });
    const begun = performance.now();
    recorder.start();
    button.textContent = "Stop speaking";
    this.clock = setInterval(() => {
      const seconds = Math.floor((performance.now() - begun) / 1000);
      this.say(`Speaking, ${seconds} s of ${LONGEST}`);
      if (seconds >= LONGEST) recorder.stop();
    }, 250);
  }
}
