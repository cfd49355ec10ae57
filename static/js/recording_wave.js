// The shape of a sound with the bars of the form map on it: pressed to go there, its marks dragged or moved by keyboard.
// Times are seconds. `on` says what happens: seek(seconds), move(mark, seconds), moved().

export function drawWave(box, data, on) {
  const shape = box.querySelector("svg"), view = box.querySelector("[data-wave-view]"), all = box.querySelector("[data-wave-all]");
  const duration = data.duration, { per_second: rate, heights } = data.wave;
  shape.setAttribute("viewBox", `0 0 ${duration} 200`);
  const most = Math.max(...heights, 1), high = (height) => Math.max(1, (height * 99) / most);
  const top = heights.map((height, i) => `${(i / rate).toFixed(3)} ${(100 - high(height)).toFixed(1)}`);
  const under = heights.map((height, i) => `${(i / rate).toFixed(3)} ${(100 + high(height)).toFixed(1)}`).reverse();
  shape.querySelector(".wave__heights").setAttribute("d", `M${[...top, ...under].join("L")}Z`);
  box.hidden = false;
  const now = box.querySelector("[data-wave-now]");
  const share = (seconds) => `${(100 * Math.min(1, Math.max(0, seconds / duration))).toFixed(3)}%`;
  const secondsAt = (event) => { const area = all.getBoundingClientRect(); return Math.min(duration, Math.max(0, ((event.clientX - area.left) / area.width) * duration)); };
  all.addEventListener("click", (event) => { if (!event.target.closest("[role=slider]")) on.seek(secondsAt(event)); });
  box.querySelector("[data-closer]").addEventListener("change", (event) => { all.style.width = `${100 * Number(event.target.value)}%`; keepInView(); });
  function keepInView() { view.scrollLeft = now.offsetLeft - view.clientWidth / 3; }

  let handles = new Map();
  function handle(mark, bounds) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "wave__mark";
    made.setAttribute("role", "slider");
    const place = (seconds) => {
      made.style.left = share(seconds);
      made.setAttribute("aria-valuenow", seconds.toFixed(2));
      made.setAttribute("aria-valuetext", `${seconds.toFixed(2)} seconds`);
    };
    const inside = (seconds) => Math.round(Math.min(bounds[1], Math.max(bounds[0], seconds)) * 1000) / 1000;
    made.toggleAttribute("data-suggested", Boolean(mark.suggested));
    made.toggleAttribute("data-top", mark.bar === 1);
    made.setAttribute("aria-label", `${mark.suggested ? "suggested: " : ""}chorus ${mark.chorus}, bar ${mark.bar}${mark.label ? `, section ${mark.label}` : ""}`);
    made.setAttribute("aria-valuemin", bounds[0].toFixed(2));
    made.setAttribute("aria-valuemax", bounds[1].toFixed(2));
    made.append(Object.assign(document.createElement("span"), { textContent: mark.label || String(mark.bar) }));
    place(mark.seconds);
    made.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: -0.05, ArrowDown: -0.05, ArrowRight: 0.05, ArrowUp: 0.05 }[event.key];
      if (!step) return;
      event.preventDefault();
      on.move(mark, inside(mark.seconds + step * (event.shiftKey ? 20 : 1)), true);
    });
    let dragged = null;
    made.addEventListener("pointerdown", (event) => { made.setPointerCapture(event.pointerId); dragged = { from: event.clientX, to: null }; });
    made.addEventListener("pointermove", (event) => {
      if (!dragged || (dragged.to === null && Math.abs(event.clientX - dragged.from) < 3)) return;
      dragged.to = inside(secondsAt(event));
      place(dragged.to);
    });
    const end = () => { const to = dragged?.to ?? null; dragged = null; if (to !== null) on.move(mark, to, false); };
    made.addEventListener("pointerup", end);
    made.addEventListener("pointercancel", () => { dragged = null; place(mark.seconds); });
    made.addEventListener("click", () => on.seek(mark.seconds));
    return made;
  }

  return {
    /** Marks, suggested ones among them, and the times of every bar of every chorus. */
    marks(marks, times) {
      const focus = [...handles].find(([, one]) => one === document.activeElement)?.[0];
      for (const one of handles.values()) one.remove();
      const ordered = [...marks].sort((a, b) => a.seconds - b.seconds);
      handles = new Map(ordered.map((mark, i) => [`${mark.chorus}:${mark.bar}`, handle(mark, [ordered[i - 1] ? ordered[i - 1].seconds + 0.05 : 0, ordered[i + 1] ? ordered[i + 1].seconds - 0.05 : duration])]));
      all.append(...handles.values());
      shape.querySelector(".wave__bars").setAttribute("d", times.flat().filter((time) => time <= duration).map((time) => `M${time.toFixed(3)} 0V200`).join(""));
      if (focus) handles.get(focus)?.focus();
    },
    at(seconds, playing) {
      now.style.left = share(seconds);
      const x = now.offsetLeft;
      if (playing && (x < view.scrollLeft || x > view.scrollLeft + view.clientWidth - 24)) keepInView();
    },
  };
}
