// Keeping the answered field in sight: between the top of what is seen and the dock with its keypad, also when the
// device's own keyboard takes a part of the screen.

const GAP = 8;

export class View {
  root; dock; current;

  /** `dock` is the bar at the foot; `current()` gives the field being answered, or null. */
  constructor(dock, current) {
    Object.assign(this, { dock, current, root: document.documentElement });
    new ResizeObserver(() => this.measure()).observe(dock);
    window.visualViewport?.addEventListener("resize", () => this.lift());
    window.visualViewport?.addEventListener("scroll", () => this.lift());
  }

  // The dock grows with what it says; the browser's own scrolling to a field has to know (quiz.css).
  measure() {
    this.root.style.setProperty("--dock", `${this.dock.offsetHeight}px`);
    this.show(this.current());
  }

  // Above the device's own keyboard, which covers the page without making it shorter.
  lift() {
    const seen = window.visualViewport;
    const covered = seen.scale > 1.01 ? 0 : Math.max(0, window.innerHeight - seen.height - seen.offsetTop);
    this.dock.style.bottom = covered > 60 ? `${covered}px` : "";
    this.show(this.current());
  }

  /** Scroll no more than needed: the whole bar with its chord when there is room, else the field and what it says. */
  show(field) {
    if (!field || document.activeElement !== field || field.closest(".questions--beside")) return;
    const seen = window.visualViewport;
    const high = seen?.offsetTop ?? 0;
    const low = Math.min(this.dock.getBoundingClientRect().top, high + (seen?.height ?? window.innerHeight)) - GAP;
    const place = [field.closest(".bar"), field.closest("[data-ask]"), field]
      .find((part) => part && part.offsetHeight + GAP <= low - high) ?? field;
    const box = place.getBoundingClientRect();
    const by = box.bottom > low ? box.top - high - Math.min((low - high) / 4, low - high - box.height)
      : box.top < high + GAP ? box.top - high - GAP : 0;
    if (by) window.scrollBy({ top: by, behavior: "instant" });
  }
}
