// Play, pause and the cursor that goes with the sound.

import { openBank } from "./bank.mjs";
import { findBeat } from "./cursor.mjs";
import { byId, say } from "./elements.mjs";
import { heardTime } from "./output.mjs";
import { Player } from "./player.mjs";

const AHEAD_SECONDS = 0.3; // handed over before it sounds
const AHEAD_UNSEEN_SECONDS = 1.6; // a page out of sight is woken once a second
const WAKE_MS = 40;
const STILL = matchMedia("(prefers-reduced-motion: reduce)");

/**
 * What the page gives its playback.
 * @typedef {object} Parts
 * @property {() => ArrayBuffer} recording
 * @property {import("./types.d.ts").PageData} data
 * @property {import("./sheet.mjs").Sheet} sheet
 * @property {() => {tempo: number, loop: boolean, silent: boolean, click: number, countInBars: number}} settings
 * @property {() => void} onStart
 */

/** Plays the fill of a sheet. */
export class Playback {
  /** @param {Parts} parts */
  constructor(parts) {
    this.parts = parts;
    /** @type {Player | null} */
    this.player = null;
    /** @type {AudioContext | null} */
    this.context = null; // from the first time something is played
    /** @type {import("./bank.mjs").Bank | null} */
    this.bank = null;
    /** @type {WakeLockSentinel | null} */
    this.lock = null;
    this.from = 0; // where Play starts, in whole notes
    this.opening = false;
    this.timer = 0;
    this.frame = 0;
    document.addEventListener("visibilitychange", () => this.#wake());
  }

  /** Start from where it was paused. */
  async play() {
    if (this.opening) return;
    this.opening = true;
    say(this.bank ? "" : "Loading the sounds.");
    try {
      const { context, bank } = await this.#openSound();
      this.player = new Player(context, bank, this.parts.sheet.fill, this.parts.data.rules);
    } catch (error) {
      say("This browser can't play this page. Use the play-along files of the lesson instead.");
      console.error(error);
      return;
    } finally {
      this.opening = false;
    }
    this.applySettings();
    this.player.start({ from: this.from, countInBars: this.parts.settings().countInBars });
    this.#wake();
    this.timer = setInterval(() => this.#wake(), WAKE_MS);
    byId("play-word").textContent = "Pause";
    say("");
    this.parts.onStart();
    this.#keepAwake();
    this.#follow();
  }

  /** Give the player the settings of now. */
  applySettings() {
    if (!this.player) return;
    const { tempo, loop, silent, click } = this.parts.settings();
    if (this.player.tempo !== tempo) this.player.setTempo(tempo);
    this.player.repetitions = loop ? Infinity : 1;
    this.player.silent = silent;
    this.player.setClick(click);
  }

  /** Stop and keep the place: Play goes on from the start of that bar. */
  pause() {
    if (!this.player) return;
    const { fill } = this.parts.sheet;
    const here = this.player.where(heardTime(this.player.context));
    if (here && !here.counting && here.place < fill.body) this.from = Math.floor(here.place / fill.bar + 1e-9) * fill.bar;
    this.stop();
    say(this.from ? `Paused in bar ${Math.round(this.from / fill.bar) + 1}. Play continues from there.` : "");
  }

  playOrPause() {
    if (this.player) this.pause();
    else this.play();
  }

  /** Stop, and show where Play goes on. */
  stop() {
    this.player?.stop();
    this.player = null;
    clearInterval(this.timer);
    cancelAnimationFrame(this.frame);
    this.lock?.release();
    this.lock = null;
    byId("play-word").textContent = "Play";
    if (this.from) this.parts.sheet.cursor?.show(this.from);
    else this.parts.sheet.cursor?.hide();
  }

  /** Stop and go back to the first bar. */
  rewind() {
    this.from = 0;
    if (this.player) this.stop();
    this.parts.sheet.cursor?.hide();
  }

  /** Play from the first bar if it was playing, else only go back there. */
  restart() {
    const again = this.player !== null;
    this.rewind();
    say("");
    if (again) this.play();
  }

  /** Open the sound: browsers let no page sound before it is touched. */
  async #openSound() {
    if (!this.context) {
      const session = /** @type {{audioSession?: {type: string}}} */ (navigator).audioSession;
      if (session) session.type = "playback"; // audible with the phone's ring switch off
      this.context = new AudioContext({ latencyHint: "interactive" });
    }
    const awake = this.context.resume(); // before anything is waited for: later the touch no longer counts
    this.bank ??= await openBank(this.context, this.parts.recording(), this.parts.data.packed);
    await awake;
    return { context: this.context, bank: this.bank };
  }

  #wake() {
    const ahead = document.hidden ? AHEAD_UNSEEN_SECONDS : AHEAD_SECONDS;
    this.player?.pump(this.player.context.currentTime + ahead);
  }

  async #keepAwake() {
    try {
      this.lock = (await navigator.wakeLock?.request("screen")) ?? null;
      if (!this.player) this.lock?.release();
    } catch {
      // the screen may go dark; the sound goes on
    }
  }

  /** Move the cursor with the music, once a frame. */
  #follow() {
    const { player } = this;
    if (!player) return;
    const time = heardTime(player.context);
    if (player.overAt(time)) {
      this.rewind();
      return;
    }
    const here = player.where(time);
    const { cursor, fill } = this.parts.sheet;
    if (here) cursor?.show(here.counting ? this.from : STILL.matches ? findBeat(fill, here.place) : here.place);
    this.frame = requestAnimationFrame(() => this.#follow());
  }
}
