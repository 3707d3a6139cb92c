// The practice clock: how long the student has practised, and when to rest.

const STRETCH_SECONDS = 25 * 60; // of practice, then the page asks for a rest; ours, not measured
const REST_SECONDS = 5 * 60; // without practice count as a rest; ours, not measured

/** Counts practice; five minutes without any are a rest, and a new stretch begins. */
export class PracticeClock {
  /** @param {number} seconds already practised today */
  constructor(seconds = 0) {
    this.today = seconds;
    this.stretch = 0;
    this.running = false;
    /** @type {number | null} */
    this.last = null;
  }

  /** @param {number} now in seconds on a clock that never goes back */
  start(now) {
    if (this.last !== null && !this.running && now - this.last >= REST_SECONDS) this.stretch = 0;
    this.running = true;
    this.last = now;
  }

  /** @param {number} now */
  stop(now) {
    this.tick(now);
    this.running = false;
  }

  /** Add the time since the last call. @param {number} now */
  tick(now) {
    if (!this.running || this.last === null) return;
    const passed = Math.max(0, now - this.last);
    this.today += passed;
    this.stretch += passed;
    this.last = now;
  }

  get restDue() {
    return this.stretch >= STRETCH_SECONDS;
  }
}

/** Write seconds as "4:05" or "1:04:05". @param {number} seconds */
export function formatClock(seconds) {
  const whole = Math.floor(seconds);
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const [hours, minutes] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60];
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}
