// Plays the fill of a page: play and stop, tempo, loop, a cursor that goes with the sound.

import { completeFill } from "/sound/fill.mjs";
import { heardTime } from "/sound/output.mjs";
import { Player } from "/sound/player.mjs";
import { findPosition, putAt } from "./cursor.mjs";
import { byId, find, inputById, isTicked } from "./elements.mjs";
import { kitFor } from "./kit.mjs";

const WAKE_MS = 40;
const AHEAD_SECONDS = 0.25; // handed over before it sounds
const HIDDEN_AHEAD_SECONDS = 2.5; // a page out of sight is woken seldom
const DEFAULT_TEMPO = 80; // bpm, where the field is empty; ours

/** @typedef {import("./types.d.ts").SentFill} SentFill */
/** @typedef {import("./types.d.ts").StudioFill} StudioFill */
/** @typedef {{tempo: number, loop?: boolean, silent?: boolean, click?: number}} Settings */

/** @type {AudioContext | null} */
let context = null;

/** Fulfilled when the fill of the page can sound at once. @type {Promise<void> | null} */
export let ready = null;

/** Return the context that sounds. */
export const wakeUp = () => (context ??= new AudioContext({ latencyHint: "interactive" }));
// browsers let a context sound only once the page was touched; the touch comes before the click that plays
for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, wakeUp, { once: true, capture: true });

/** Plays a fill below its music. */
export class Stand {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.cursor = find(root, ".cursor");
    /** @type {Player | null} */
    this.player = null;
    /** @type {StudioFill | null} */
    this.fill = null;
    /** @type {Settings | null} */
    this.settings = null;
    /** @type {symbol | null} */
    this.request = null;
    this.timer = 0;
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
  }

  get playing() {
    return this.player !== null;
  }

  /**
   * Play from a place of the phrase. The latest call plays: earlier ones that still load give way.
   * @param {Settings & {from?: number, countInBars?: number}} how
   */
  async play({ tempo, loop = false, silent = false, from = 0, countInBars = 1, click = 0 }) {
    if (!this.fill) throw new Error("There is no fill to play.");
    this.settings = { tempo, loop, silent, click };
    const request = (this.request = Symbol("play"));
    const audio = wakeUp();
    const [kit] = await Promise.all([kitFor(this.fill), audio.resume()]);
    if (request !== this.request) return null;
    this.#silence();
    const player = new Player(audio, kit, this.fill, { ...kit.rules, flamMs: this.fill.flamMs });
    Object.assign(player, { tempo, repetitions: loop ? Infinity : 1, silent });
    player.setClick(click);
    player.start({ from, countInBars });
    this.player = player;
    const wake = () => player.pump(audio.currentTime + (document.hidden ? HIDDEN_AHEAD_SECONDS : AHEAD_SECONDS));
    wake();
    this.timer = setInterval(wake, WAKE_MS);
    this.#follow(player);
    this.root.dispatchEvent(new CustomEvent("started"));
    return player;
  }

  stop() {
    this.request = null;
    if (!this.player) return;
    this.#silence();
    this.root.dispatchEvent(new CustomEvent("stopped"));
  }

  /** Take another fill with its sounds; if it plays, it goes on with that fill from where it is. @param {SentFill} sent */
  async put(sent) {
    const fill = (this.fill = completeFill(sent));
    await kitFor(fill);
    if (!this.player || !this.settings || this.fill !== fill) return;
    const here = this.player.where(heardTime(this.player.context));
    const begun = here !== null && !here.counting;
    const { tempo, repetitions, silent } = this.player;
    const now = { ...this.settings, tempo, loop: repetitions === Infinity, silent };
    await this.play({ ...now, from: begun ? here.place : 0, countInBars: begun ? 0 : 1 });
  }

  #silence() {
    this.player?.stop();
    this.player = null;
    clearInterval(this.timer);
    this.cursor.hidden = true;
  }

  /** @param {Player} player */
  #follow(player) {
    const frame = () => {
      if (this.player !== player) return;
      const time = heardTime(player.context);
      if (player.overAt(time)) {
        this.stop();
        return;
      }
      const here = player.where(time);
      if (here && !here.counting) this.show(here.place);
      requestAnimationFrame(frame);
    };
    frame();
  }

  /** Show the cursor at a place of the phrase. @param {number} place */
  show(place) {
    if (!this.fill) return;
    const wide = find(this.root, ".wide");
    const shown = wide.offsetParent ? wide : find(this.root, ".narrow");
    const beat = this.fill.beats[1] ?? this.fill.bar;
    const at = this.still.matches ? Math.floor(place / beat + 1e-9) * beat : place;
    this.cursor.hidden = false;
    putAt(this.cursor, shown, findPosition(this.fill.way[shown === wide ? "wide" : "narrow"], at));
  }
}

const rootElement = document.getElementById("stand");
const playButton = document.getElementById("play");
if (rootElement && playButton) begin(new Stand(rootElement), playButton);

/** Make the controls of a page play its fill. @param {Stand} stand @param {HTMLElement} button */
function begin(stand, button) {
  ready = load(stand);
  ready.catch(console.error);
  find(document, ".play").classList.remove("unready");
  let starting = false;
  const play = async () => {
    starting = true;
    button.textContent = "Stop";
    try {
      await ready;
      if (!starting) return;
      await stand.play({ tempo: fieldTempo(), loop: isTicked("loop"), silent: isTicked("silent") });
    } catch (error) {
      starting = false;
      button.textContent = "This browser can't play it";
      console.error(error);
    }
  };
  const stop = () => {
    starting = false;
    button.textContent = "Play";
    stand.stop();
  };
  button.addEventListener("click", () => (starting ? stop() : play()));
  stand.root.addEventListener("stopped", stop);
  listenToSettings(stand);
  document.addEventListener("fill-changed", (event) => {
    stand.put(/** @type {CustomEvent} */ (event).detail.play).catch(console.error);
  });
}

/** Load the fill that the page names, or that is written in it. @param {Stand} stand */
async function load(stand) {
  const inPage = document.getElementById("told");
  if (inPage) return stand.put(JSON.parse(inPage.textContent ?? "").play);
  const response = await fetch(stand.root.dataset.sound ?? "");
  return stand.put(await response.json());
}

function fieldTempo() {
  return Number(inputById("tempo")?.value) || DEFAULT_TEMPO;
}

/** Change tempo, loop and silent fill while it plays. @param {Stand} stand */
function listenToSettings(stand) {
  byId("tempo").addEventListener("change", () => stand.player?.setTempo(fieldTempo()));
  inputById("loop")?.addEventListener("change", () => {
    if (stand.player) stand.player.repetitions = isTicked("loop") ? Infinity : 1;
  });
  inputById("silent")?.addEventListener("change", () => {
    if (stand.player) stand.player.silent = isTicked("silent");
  });
}
