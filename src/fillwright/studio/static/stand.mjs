// What is on the music stand can be heard: play and stop, tempo, over and over, a cursor that goes with the sound.

import { kitFor } from "/static/kit.mjs";
import { Player, heardTime } from "/sound/player.mjs";

const WAKE_MS = 40;
const AHEAD_SECONDS = 0.25;
const HIDDEN_AHEAD_SECONDS = 2.5;

let context = null;

/** Fulfilled when what is on the page's stand can sound at once. */
export let ready = null;

/** The context that sounds. */
export const wakeUp = () => (context ??= new AudioContext({ latencyHint: "interactive" }));
// browsers let a context sound only once the page was touched; the touch comes before the click that plays
for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, wakeUp, { once: true, capture: true });

/** A fill as the player wants it: what is played from the second time on stands at its end. */
export const completed = (fill) => ({
  ...fill,
  again: [...fill.first, ...fill.strokes.slice(0, fill.landing).filter((row) => row[0] > 0)],
});

/** Where the cursor stands at a place: {x, top, height} in parts of the drawing. */
function standing(marks, place) {
  let i = 0;
  while (i + 1 < marks.length && marks[i + 1][0] <= place) i++;
  const [t0, x0, top, height, line] = marks[i];
  const next = marks[i + 1];
  if (!next || next[4] !== line) return { x: x0, top, height };
  return { x: x0 + ((next[1] - x0) * (place - t0)) / (next[0] - t0), top, height };
}

/** Plays what is on a stand. */
export class Stand {
  constructor(root) {
    this.root = root;
    this.cursor = root.querySelector(".cursor");
    this.player = null;
    this.fill = null;
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
  }

  get playing() {
    return this.player !== null;
  }

  /** Play from a place of the phrase. Whoever asks last is heard: what was asked for before gives way. */
  async play({ tempo, loop = false, silent = false, from = 0, countInBars = 1, click = 0 }) {
    this.asked = { tempo, loop, silent, click };
    const turn = (this.turn = Symbol("play"));
    const context = wakeUp();
    const [kit] = await Promise.all([kitFor(this.fill), context.resume()]);
    if (turn !== this.turn) return null;
    this.#quiet();
    const player = new Player(context, kit, this.fill, { ...kit.rules, flamMs: this.fill.flamMs });
    Object.assign(player, { tempo, passes: loop ? Infinity : 1, silent });
    player.setClick(click);
    player.start({ from, countInBars });
    this.player = player;
    const wake = () => player.pump(context.currentTime + (document.hidden ? HIDDEN_AHEAD_SECONDS : AHEAD_SECONDS));
    wake();
    this.timer = setInterval(wake, WAKE_MS);
    this.#follow(player);
    this.root.dispatchEvent(new CustomEvent("started"));
    return player;
  }

  stop() {
    this.turn = null;
    if (!this.player) return;
    this.#quiet();
    this.root.dispatchEvent(new CustomEvent("stopped"));
  }

  /** Another fill on the stand, with its sounds; what plays goes on with it, from where it is by then. */
  async put(fill) {
    const put = (this.fill = completed(fill));
    await kitFor(put);
    if (!this.player || this.fill !== put) return;
    const here = this.player.where(heardTime(this.player.context));
    const begun = here && !here.counting;
    const { tempo, passes, silent } = this.player;
    const loop = passes === Infinity;
    await this.play({ ...this.asked, tempo, loop, silent, from: begun ? here.place : 0, countInBars: begun ? 0 : 1 });
  }

  #quiet() {
    this.player?.stop();
    this.player = null;
    clearInterval(this.timer);
    this.cursor.hidden = true;
  }

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

  show(place) {
    const wide = this.root.querySelector(".wide");
    const shown = wide.offsetParent ? wide : this.root.querySelector(".narrow");
    const beat = this.fill.beats[1] ?? this.fill.bar;
    const at = this.still.matches ? Math.floor(place / beat + 1e-9) * beat : place;
    const { x, top, height } = standing(this.fill.way[shown === wide ? "wide" : "narrow"], at);
    this.cursor.hidden = false;
    this.cursor.style.setProperty("left", `${shown.offsetLeft + x * shown.offsetWidth}px`);
    this.cursor.style.setProperty("top", `${shown.offsetTop + top * shown.offsetHeight}px`);
    this.cursor.style.setProperty("height", `${height * shown.offsetHeight}px`);
  }
}

const root = document.getElementById("stand");
const button = document.getElementById("play");
if (root && button) begin();

async function begin() {
  const stand = new Stand(root);
  const told = document.getElementById("told");
  const put = (fill) => stand.put(fill);
  ready = told
    ? put(JSON.parse(told.textContent).play)
    : fetch(root.dataset.sound).then((answer) => answer.json()).then(put);
  ready.catch(console.error);
  document.querySelector(".play").classList.remove("unready");
  const tempo = document.getElementById("tempo");
  const ticked = (id) => document.getElementById(id)?.checked ?? false;
  let starting = false;
  const play = async () => {
    starting = true;
    button.textContent = "Stop";
    try {
      await ready;
      if (!starting) return;
      await stand.play({ tempo: Number(tempo.value) || 80, loop: ticked("loop"), silent: ticked("silent") });
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
  root.addEventListener("stopped", stop);
  tempo.addEventListener("change", () => stand.player?.setTempo(Number(tempo.value) || 80));
  document.getElementById("loop")?.addEventListener("change", () => {
    if (stand.player) stand.player.passes = ticked("loop") ? Infinity : 1;
  });
  document.getElementById("silent")?.addEventListener("change", () => {
    if (stand.player) stand.player.silent = ticked("silent");
  });
  document.addEventListener("fill-changed", (event) => stand.put(event.detail.play).catch(console.error));
}
