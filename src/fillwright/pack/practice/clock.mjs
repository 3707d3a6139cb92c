// The practice clock: how long the student has been at it, and when to rest.

const STRETCH_SECONDS = 25 * 60;
const REST_SECONDS = 5 * 60;

/** Counts practice; five minutes without any are a rest, and a new stretch begins. */
export class PracticeClock {
  /** @param seconds already practised today */
  constructor(seconds = 0) {
    this.today = seconds;
    this.stretch = 0;
    this.running = false;
    this.last = null;
  }

  start(now) {
    if (this.last !== null && !this.running && now - this.last >= REST_SECONDS) this.stretch = 0;
    this.running = true;
    this.last = now;
  }

  stop(now) {
    this.tick(now);
    this.running = false;
  }

  /** @param now in seconds on a clock that never goes back */
  tick(now) {
    if (!this.running) return;
    const passed = Math.max(0, now - this.last);
    this.today += passed;
    this.stretch += passed;
    this.last = now;
  }

  get restDue() {
    return this.stretch >= STRETCH_SECONDS;
  }
}

/** Seconds as "4:05" or "1:04:05". */
export function clockWords(seconds) {
  const whole = Math.floor(seconds);
  const two = (n) => String(n).padStart(2, "0");
  const [hours, minutes] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60];
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}
