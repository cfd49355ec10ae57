// One recording: play slower, jump to a bar of a chorus, loop bars, tap the form map.
// Times are seconds; bars and choruses count from 1. Without a sound file a clock stands in for the player.
import { kept } from "./device/kept.js";
import { letters } from "./keys.js";
import { barTimes, nextMark, placeAt, suggest } from "./recording_map.js";
import { drawWave } from "./recording_wave.js";

const root = document.querySelector("[data-recording]");
const raw = document.getElementById("recording-data");
if (root && raw) start(root, JSON.parse(raw.textContent));

function clockPlayer() {
  let base = 0, since = null;
  const now = () => base + (since === null ? 0 : (performance.now() - since) / 1000);
  return {
    get time() { return now(); },
    set time(value) { base = Math.max(0, value); if (since !== null) since = performance.now(); },
    get paused() { return since === null; },
    play() { since = performance.now(); return Promise.resolve(); },
    pause() { base = now(); since = null; },
    duration: null,
  };
}

function soundPlayer(audio) {
  audio.preservesPitch = true;
  return {
    get time() { return audio.currentTime; },
    set time(value) { audio.currentTime = value; },
    get paused() { return audio.paused; },
    play: () => audio.play(),
    pause: () => audio.pause(),
    get duration() { return Number.isFinite(audio.duration) ? audio.duration : null; },
    audio,
  };
}

function start(box, data) {
  const find = (name) => box.querySelector(`[data-${name}]`);
  const audio = find("sound");
  const player = audio ? soundPlayer(audio) : clockPlayer();
  const place = kept(box.dataset.keep);
  let marks = data.moments.map(([chorus, bar, seconds, label]) => ({ chorus, bar, seconds, label }));
  let times = data.times;
  let loop = null, suggested = [];
  let played = 0, lastTick = null;
  const undone = [];
  if (!box.dataset.mayEdit) {
    const own = place.read();
    if (Array.isArray(own) && !marks.length) marks = own; // drawn and counted below
  }

  const whole = () => player.duration ?? data.duration;
  function recount() { times = barTimes(marks, data.bars, whole()); }
  function clock(seconds) {
    const tenths = Math.max(0, Math.round(seconds * 10));
    return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`;
  }

  // Player
  const playButton = find("play");
  const words = audio ? ["Play", "Stop"] : ["Start the clock", "Stop the clock"];
  async function toggle() {
    if (player.paused) { try { await player.play(); } catch { say("place", "The sound could not be played here. Reload the page."); } } else player.pause();
    playButton.textContent = words[player.paused ? 0 : 1];
  }
  playButton.addEventListener("click", toggle);
  audio?.addEventListener("ended", () => { playButton.textContent = words[0]; });
  function measured() { find("length").textContent = clock(audio.duration); find("seek").max = audio.duration; if (!data.times.length) recount(); }
  audio?.addEventListener("loadedmetadata", measured);
  if (audio?.readyState >= 1) measured(); // it may be there before this script is
  find("back").addEventListener("click", back);
  // Two bars as they were played: to the beginning of the bar before the last one; five seconds without a map.
  function back() {
    const starts = times.flat().filter((time) => time <= player.time + 0.001);
    player.time = starts.length > 2 ? starts.at(-3) : times.length ? (starts[0] ?? 0) : Math.max(0, player.time - 5);
    tick();
  }
  const speed = find("speed"), half = find("half");
  function pace(rate) {
    audio.playbackRate = rate;
    audio.preservesPitch = true;
    speed.value = String(rate);
    half.setAttribute("aria-pressed", String(rate === 0.5));
  }
  speed?.addEventListener("change", () => pace(Number(speed.value)));
  half?.addEventListener("click", () => pace(audio.playbackRate === 0.5 ? 1 : 0.5));
  find("seek")?.addEventListener("input", (event) => { player.time = Number(event.target.value); tick(); });

  function say(name, text) { const place = find(name); if (place && place.textContent !== text) place.textContent = text; }

  const picture = data.wave?.heights?.length && find("wave") ? drawWave(find("wave"), data, {
    seek: (seconds) => { player.time = seconds; tick(); },
    move: (mark, seconds) => {
      remember();
      if (mark.suggested) { mark.suggested = false; marks.push(...suggested.filter((one) => one.seconds <= mark.seconds || one === mark).map((one) => ({ ...one, suggested: undefined, seconds: one === mark ? seconds : one.seconds }))); suggested = []; fill(); } else { mark.seconds = seconds; if (suggested.length) fill(); }
      draw();
      unsaved();
    },
  }) : null;
  const buttons = [...box.querySelectorAll("[data-bar]")];
  let shown = null;
  function tick() {
    const now = player.time;
    find("now").textContent = clock(now);
    picture?.at(now, !player.paused);
    const seek = find("seek");
    if (seek && document.activeElement !== seek) seek.value = now;
    if (loop && !player.paused && (now >= loop.end || now < loop.start - 0.25)) player.time = loop.start;
    const at = placeAt(times, now);
    const key = at ? `${at.chorus}:${at.bar}` : "";
    if (key !== shown) {
      shown = key;
      for (const button of buttons) button.toggleAttribute("data-sounding", at !== null && Number(button.dataset.bar) === at.bar);
      if (at) say("place", `Chorus ${at.chorus}, bar ${at.bar}`);
    }
    if (!player.paused && lastTick !== null) played += Math.min(0.5, Math.max(0, (performance.now() - lastTick) / 1000));
    lastTick = player.paused ? null : performance.now();
  }
  setInterval(tick, 100);

  // Jump and loop
  function timeOf(chorus, bar) { return times[chorus - 1]?.[bar - 1] ?? null; }
  function go(chorus, bar) {
    const time = timeOf(chorus, bar);
    if (time === null) { say("place", times.length ? `The form map knows ${times.length} chorus${times.length > 1 ? "es" : ""} of ${data.bars} bars.` : "No form map yet: mark a top first."); return; }
    player.time = time;
    shown = null;
    say("place", audio ? `Chorus ${chorus}, bar ${bar}` : `Chorus ${chorus}, bar ${bar} is at ${clock(time)}.`);
  }
  const jumpBar = box.querySelector("#jump-bar"), jumpChorus = box.querySelector("#jump-chorus");
  find("jump")?.addEventListener("submit", (event) => { event.preventDefault(); go(Number(jumpChorus.value), Number(jumpBar.value)); });
  for (const button of buttons) button.addEventListener("click", () => go((placeAt(times, player.time)?.chorus) ?? 1, Number(button.dataset.bar)));
  const loopForm = find("loop"), loopSwitch = find("loop-switch");
  // Without bars chosen, the four in which the music stands.
  let chosen = false;
  loopForm?.addEventListener("input", () => { chosen = true; });
  function four() {
    const bar = placeAt(times, player.time)?.bar ?? 1, from = bar - ((bar - 1) % 4);
    box.querySelector("#loop-from").value = from;
    box.querySelector("#loop-to").value = Math.min(data.bars, from + 3);
  }
  loopForm?.addEventListener("submit", (event) => {
    event.preventDefault();
    if (loop) { loop = null; loopSwitch.setAttribute("aria-pressed", "false"); loopSwitch.textContent = "Loop"; chosen = false; say("loop-said", ""); return; }
    const chorus = placeAt(times, player.time)?.chorus ?? 1;
    if (!chosen) four();
    const from = Number(box.querySelector("#loop-from").value), to = Number(box.querySelector("#loop-to").value);
    const start = timeOf(chorus, from);
    const end = to >= data.bars ? (timeOf(chorus + 1, 1) ?? player.duration) : timeOf(chorus, to + 1);
    if (start === null || end === null || end <= start) { say("loop-said", "Choose bars that the form map knows, the first before the last."); return; }
    loop = { start, end };
    player.time = start;
    loopSwitch.setAttribute("aria-pressed", "true");
    loopSwitch.textContent = "Stop looping";
    say("loop-said", `Looping bars ${from} to ${to} of chorus ${chorus}.`);
  });

  // Taps
  const body = find("marks");
  function draw() {
    marks.sort((a, b) => a.chorus - b.chorus || a.bar - b.bar);
    body.replaceChildren(...marks.map(row));
    find("marks-caption").textContent = `${marks.length} mark${marks.length === 1 ? "" : "s"}`;
    find("undo").disabled = undone.length === 0;
    recount();
    offer();
    picture?.marks([...marks, ...suggested], barTimes([...marks, ...suggested], data.bars, whole()));
    if (!box.dataset.mayEdit) place.write(marks);
  }
  function cell(tag, text) { const made = document.createElement(tag); made.textContent = text; return made; }
  function row(mark) {
    const line = document.createElement("tr");
    const act = document.createElement("td");
    for (const [text, label, what] of [["−", "earlier", () => nudge(mark, -0.05)], ["+", "later", () => nudge(mark, 0.05)], ["Delete", "delete", () => remove(mark)]]) {
      const button = cell("button", text);
      button.type = "button";
      button.className = "button button--quiet";
      button.setAttribute("aria-label", `${label}: chorus ${mark.chorus}, bar ${mark.bar}`);
      button.addEventListener("click", what);
      act.append(button);
    }
    const head = cell("th", String(mark.chorus));
    head.scope = "row";
    line.append(head, cell("td", mark.label ? `${mark.bar} (${mark.label})` : String(mark.bar)), cell("td", clock(mark.seconds)), act);
    return line;
  }
  // The rest of the map, from what is marked and the tempo: drawn as a suggestion until it is kept.
  const offerBox = find("suggest-box"), offerButton = find("suggest"), offerAway = find("suggest-away");
  function rest() { return suggest(marks, data.bars, data.sections, whole(), data.tempo, data.beats).map((mark) => ({ ...mark, suggested: true })); }
  function fill() { suggested = rest(); }
  function offer() {
    if (!offerBox) return;
    const more = suggested.length || rest().length;
    offerBox.hidden = !more;
    offerButton.textContent = suggested.length ? "Keep the suggested marks" : "Fill in the rest";
    offerAway.hidden = !suggested.length;
    say("suggest-said", suggested.length ? `${more} suggested mark${more > 1 ? "s" : ""}, drawn broken. Correct one where it is off: the rest follows it.` : `What is marked${marks.length > 1 ? "" : " and the tempo"} would give ${more} more mark${more > 1 ? "s" : ""} to the end.`);
  }
  offerButton?.addEventListener("click", () => {
    if (suggested.length) { remember(); marks.push(...suggested.map(({ suggested: _s, ...mark }) => mark)); suggested = []; unsaved(); } else fill();
    draw();
  });
  offerAway?.addEventListener("click", () => { suggested = []; draw(); offerButton.focus(); });
  function nudge(mark, by) { remember(); mark.seconds = Math.max(0, Math.round((mark.seconds + by) * 1000) / 1000); draw(); unsaved(); }
  function remove(mark) { remember(); marks = marks.filter((other) => other !== mark); draw(); unsaved(); }
  function remember() { undone.push(marks.map((mark) => ({ ...mark }))); }
  function unsaved() { if (box.dataset.mayEdit) say("saved", "Not saved yet"); }
  function tap(top) {
    const mark = nextMark(marks, player.time, data.sections, top);
    remember();
    marks = marks.filter((other) => other.chorus !== mark.chorus || other.bar !== mark.bar);
    marks.push(mark);
    if (suggested.length) fill();
    draw();
    unsaved();
    say("place", `Marked chorus ${mark.chorus}, bar ${mark.bar} at ${clock(mark.seconds)}`);
  }
  find("tap-top")?.addEventListener("click", () => tap(true));
  find("tap-section")?.addEventListener("click", () => tap(false));
  find("undo")?.addEventListener("click", () => { marks = undone.pop() ?? marks; if (suggested.length) fill(); draw(); unsaved(); });
  find("save")?.addEventListener("click", save);
  async function save() {
    say("saved", "Saving");
    const sent = new URLSearchParams({ moments: JSON.stringify(marks) });
    try {
      const answer = await fetch(box.dataset.marksUrl, { method: "POST", body: sent, headers: { "X-CSRFToken": token() } });
      const said = await answer.json();
      if (answer.ok) { times = said.times; say("saved", `Saved ${new Date().toTimeString().slice(0, 5)}`); } else say("saved", `Not saved: ${said.problem}`);
    } catch { say("saved", "Not saved: no connection. Your marks are still here; press Save again."); }
  }
  function token() { return document.querySelector("[data-heard] [name=csrfmiddlewaretoken]").value; }
  if (body) draw();
  if (times.length) find("back").textContent = "Back 2 bars";

  letters({ p: toggle, t: () => tap(true), s: () => tap(false), b: back, h: () => half?.click() });

  // What was really played here goes into the log entry.
  document.querySelector("[data-heard]")?.addEventListener("submit", (event) => { event.target.elements.seconds.value = Math.round(played); });
}
