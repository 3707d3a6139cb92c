// The practice clock on the page: it starts with the first Play, keeps today's time and asks for a rest.

import { PracticeClock, formatClock } from "./clock.mjs";
import { byId, say } from "./elements.mjs";

const KEEP_SECONDS = 10; // today's time is kept so often

const now = () => performance.now() / 1000;

/** Shows a practice clock. */
export class ClockPanel {
  /**
   * @param {number} seconds practised today
   * @param {(seconds: number) => void} keep called with today's time now and then, and at the end
   */
  constructor(seconds, keep) {
    this.clock = new PracticeClock(seconds);
    setInterval(() => {
      if (!this.clock.running) return;
      this.show();
      if (Math.floor(this.clock.today) % KEEP_SECONDS === 0) keep(this.clock.today);
    }, 1000);
    addEventListener("pagehide", () => {
      this.clock.tick(now());
      keep(this.clock.today);
    });
    this.show();
  }

  start() {
    if (!this.clock.running) this.toggle();
  }

  toggle() {
    if (this.clock.running) this.clock.stop(now());
    else this.clock.start(now());
    byId("clock-word").textContent = this.clock.running ? "Stop the clock" : "Start the clock";
    this.show();
  }

  show() {
    this.clock.tick(now());
    byId("stretch").textContent = formatClock(this.clock.stretch);
    byId("today").textContent = formatClock(this.clock.today);
    const words = this.clock.restDue ? "25 minutes. Stop the clock and rest for five minutes." : "";
    if (byId("rest").textContent === words) return;
    byId("rest").textContent = words;
    if (words) say("25 minutes: time to rest.");
  }
}
