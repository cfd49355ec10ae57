// Whose turn it is to be sent: one at a time, again when it did not go, at once when the connection is back.

import { BUSY, passes } from "./posted.js";

const FIRST = 2000, LONGEST = 30000; // milliseconds between tries

/** Says that there is more to send at once. */
export const MORE = "more";

export class Turns {
  work; first; longest; spread;

  /**
   * `work(options)` sends what waits and says "" when all of it is there, MORE when there is more, else why not (posted.js).
   * `spread`: tries do not come at the same moment from many devices.
   * @param {(options: any) => Promise<string>} work
   * @param {{ first?: number, longest?: number, spread?: boolean }} [how]
   */
  constructor(work, { first = FIRST, longest = LONGEST, spread = false } = {}) {
    Object.assign(this, { work, first, longest, spread, delay: first, under: null, stopped: false });
    window.addEventListener("online", () => this.now());
    document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") this.now({ last: true }); });
  }

  /** In so many milliseconds, unless it is asked for sooner. */
  soon(wait) {
    clearTimeout(this.timer);
    if (!this.stopped) this.timer = setTimeout(() => this.now(), wait);
  }

  /** Now, after what is under way. Resolves true when nothing waits any more. */
  async now(options = {}) {
    clearTimeout(this.timer);
    while (this.under) await this.under;
    if (this.stopped && !options.over) return false;
    this.under = this.turn(options);
    try { return await this.under; } finally { this.under = null; }
  }

  async turn(options) {
    let why = MORE;
    while (why === MORE) why = await this.work(options);
    if (!why) this.delay = this.first;
    else if (passes(why)) this.again(why);
    return !why;
  }

  again(why) {
    if (why === BUSY) this.delay = this.first; // the server says when: in a moment
    this.soon(this.delay * (this.spread ? 0.5 + Math.random() : 1));
    this.delay = Math.min(this.delay * 2, this.longest);
  }

  stop() { this.stopped = true; clearTimeout(this.timer); }
  go() { this.stopped = false; }
}
