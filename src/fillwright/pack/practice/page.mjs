// The page: a lesson's fills, one on the stand at a time.

import { Bank, openBank } from "./bank.mjs";
import { Player, heardTime } from "./player.mjs";
import { Cursor, onBeat, standing } from "./cursor.mjs";
import { Memory } from "./keep.mjs";
import { PracticeClock, clockWords } from "./clock.mjs";
import { Staircase } from "./staircase.mjs";
import { Ladder } from "./ladder.mjs";
import { onPaper, svgOf } from "./drawings.mjs";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("data").textContent);
const fills = data.fills.map((fill) => ({
  ...fill,
  again: [...fill.first, ...fill.strokes.slice(0, fill.landing).filter((row) => row[0] > 0)],
}));

const CLICKS = [["off", 0], ["soft", 0.5], ["even", 1], ["strong", 2], ["loud", 4]];
const COUNTS = ["none", "1 bar", "2 bars"];
const SLOWEST = 20;
const FASTEST = 400;
const AHEAD_SECONDS = 0.3;
const AHEAD_UNSEEN_SECONDS = 1.6; // a page out of sight is woken once a second
const WAKE_MS = 40;
const NARROW = matchMedia("(max-width: 559px)");
const STILL = matchMedia("(prefers-reduced-motion: reduce)");
const DOTTED = 0.375;

const day = new Date().toLocaleDateString("sv");
const memory = new Memory(data.id, {
  at: "", tempos: {}, reached: {}, loop: true, silent: false, click: 2, count: 1, day, seconds: 0,
});
const state = memory.state;
const clock = new PracticeClock(state.day === day ? state.seconds : 0);
const seconds = () => performance.now() / 1000;
const staircase = new Staircase($("steps"), (index) => {
  put(fills[index]);
  if ($("sheet").getBoundingClientRect().top < 0) $("sheet").scrollIntoView();
});
const ladder = new Ladder($("rungs"), { set: setTempo, tick });

let fill = fills.find((each) => each.slug === state.at) ?? fills[0];
let cursor = null;
let context = null; // from the first time something is played
let bank = null;
let player = null;
let from = 0; // where Play starts, in whole notes
let timer = 0;
let frame = 0;
let lock = null;

// ---- what is on the stand

function put(next) {
  if (player) halt();
  fill = next;
  from = 0;
  memory.set({ at: fill.slug });
  $("number").textContent = fill.number;
  $("caption").textContent = fill.caption;
  $("figure").textContent = `${fill.figure}, ${fill.rhythm.charAt(0).toLowerCase()}${fill.rhythm.slice(1)}`;
  $("sticking").textContent = fill.sticking;
  $("groove").textContent = fill.groove;
  $("difficulty").textContent = fill.difficulty;
  $("plan").innerHTML = fill.plan;
  $("back").disabled = fill === fills[0];
  $("next").disabled = fill === fills.at(-1);
  staircase.stand(fills.indexOf(fill));
  draw();
  ladder.lay(fill.ladder, reachedOf(fill));
  showTempo();
  say("");
}

function draw() {
  const drawing = NARROW.matches ? fill.narrow : fill.wide;
  $("music").innerHTML = svgOf(drawing);
  cursor = new Cursor($("music").firstChild, drawing.lines);
}

// ---- tempo and its ladder

const tempoOf = (each) => (state.tempos[each.slug] >= SLOWEST ? Number(state.tempos[each.slug]) : each.ladder[0]);
const reachedOf = (each) => (Array.isArray(state.reached[each.slug]) ? state.reached[each.slug] : []);

function setTempo(tempo) {
  const kept = Math.min(FASTEST, Math.max(SLOWEST, Math.round(tempo)));
  memory.set({ tempos: { ...state.tempos, [fill.slug]: kept } });
  player?.setTempo(kept);
  showTempo();
}

function showTempo() {
  $("tempo").textContent = `= ${tempoOf(fill)}`;
  $("dot").setAttribute("visibility", fill.unit === DOTTED ? "visible" : "hidden");
  ladder.press(tempoOf(fill));
}

function tick(tempo, on) {
  const kept = reachedOf(fill).filter((each) => each !== tempo);
  if (on) kept.push(tempo);
  memory.set({ reached: { ...state.reached, [fill.slug]: kept.sort((a, b) => a - b) } });
  staircase.mark(fills.indexOf(fill), fill.ladder, reachedOf(fill));
}

function tickHere() {
  const tempo = tempoOf(fill);
  if (!fill.ladder.includes(tempo)) return say(`${tempo} is not on the ladder of this fill.`);
  const on = !reachedOf(fill).includes(tempo);
  tick(tempo, on);
  ladder.check(tempo, on);
  return say(on ? `${tempo} reached.` : `${tempo} taken back.`);
}

// ---- playing

/** Made when something is first played: browsers let no page sound before it is touched. */
async function openSound() {
  if (!context) {
    if (navigator.audioSession) navigator.audioSession.type = "playback"; // heard with the phone's ring switch off
    context = new AudioContext({ latencyHint: "interactive" });
  }
  const awake = context.resume(); // before anything is waited for: later the touch no longer counts
  bank ??= await openBank(context, bytesOf("recording"), data.packed);
  await awake;
}

function bytesOf(id) {
  return Uint8Array.from(atob($(id).textContent), (letter) => letter.charCodeAt(0)).buffer;
}

let opening = false;

async function play() {
  if (opening) return;
  opening = true;
  say(bank ? "" : "Getting the kit ready.");
  try {
    await openSound();
    player = new Player(context, bank, fill, data.rules);
  } catch (error) {
    say("This browser can't play the sounds of this page; the play-alongs of the lesson will sound in any player.");
    console.error(error);
    return;
  } finally {
    opening = false;
  }
  player.tempo = tempoOf(fill);
  player.passes = state.loop ? Infinity : 1;
  player.silent = state.silent;
  player.setClick(CLICKS[state.click][1]);
  player.start({ from, countInBars: state.count });
  wake();
  timer = setInterval(wake, WAKE_MS);
  $("play-word").textContent = "Pause";
  say("");
  if (!clock.running) toggleClock();
  stayAwake();
  follow();
}

function wake() {
  const ahead = document.hidden ? AHEAD_UNSEEN_SECONDS : AHEAD_SECONDS;
  player.pump(player.context.currentTime + ahead);
}

document.addEventListener("visibilitychange", () => {
  if (player) wake();
});

/** Stop and keep the place: Play goes on from the start of that bar. */
function pause() {
  const here = player.where(heardTime(player.context));
  from = here && !here.counting && here.place < fill.body ? Math.floor(here.place / fill.bar + 1e-9) * fill.bar : from;
  halt();
  say(from ? `Paused in bar ${Math.round(from / fill.bar) + 1}; Play goes on from there.` : "");
}

function halt() {
  player.stop();
  player = null;
  clearInterval(timer);
  cancelAnimationFrame(frame);
  lock?.release?.();
  lock = null;
  $("play-word").textContent = "Play";
  if (from) cursor.show(from);
  else cursor.hide();
}

function fromTheTop() {
  const again = player !== null;
  from = 0;
  if (again) halt();
  cursor.hide();
  say("");
  if (again) play();
}

async function stayAwake() {
  try {
    lock = await navigator.wakeLock?.request("screen");
    if (!player) lock?.release();
  } catch {
    // the screen may go dark; the sound goes on
  }
}

/** Once a picture: the cursor stands where the music is. */
function follow() {
  const time = heardTime(player.context);
  if (player.overAt(time)) {
    from = 0;
    halt();
    return;
  }
  const here = player.where(time);
  if (here) cursor.show(here.counting ? from : STILL.matches ? onBeat(fill, here.place) : here.place);
  frame = requestAnimationFrame(follow);
}

// ---- switches

function showSwitches() {
  $("loop").checked = state.loop;
  $("silent").checked = state.silent;
  $("click").value = state.click;
  $("click-word").textContent = CLICKS[state.click][0];
  $("click").setAttribute("aria-valuetext", CLICKS[state.click][0]);
  $("count").value = state.count;
  $("count-word").textContent = COUNTS[state.count];
  $("count").setAttribute("aria-valuetext", COUNTS[state.count]);
}

function change(changes) {
  memory.set(changes);
  showSwitches();
  if (!player) return;
  player.passes = state.loop ? Infinity : 1;
  player.silent = state.silent;
  player.setClick(CLICKS[state.click][1]);
}

// ---- the practice clock

function toggleClock() {
  if (clock.running) clock.stop(seconds());
  else clock.start(seconds());
  $("clock-word").textContent = clock.running ? "Stop the clock" : "Start the clock";
  showClock();
}

function showClock() {
  clock.tick(seconds());
  $("stretch").textContent = clockWords(clock.stretch);
  $("today").textContent = clockWords(clock.today);
  const words = clock.restDue ? "25 minutes. Stop the clock and rest for five: hands down, ears quiet." : "";
  if ($("rest").textContent === words) return;
  $("rest").textContent = words;
  if (words) say("25 minutes: time to rest.");
}

setInterval(() => {
  if (!clock.running) return;
  showClock();
  if (Math.floor(clock.today) % 10 === 0) memory.set({ day, seconds: clock.today });
}, 1000);
addEventListener("pagehide", () => {
  clock.tick(seconds());
  memory.set({ day, seconds: clock.today });
});

// ---- paper

function printAll() {
  $("all").innerHTML = fills.map(onPaper).join("");
  $("all").hidden = false;
  document.body.classList.add("printing-all");
  print();
}

addEventListener("beforeprint", () => {
  if (NARROW.matches) $("music").innerHTML = svgOf(fill.wide);
});
addEventListener("afterprint", () => {
  document.body.classList.remove("printing-all");
  $("all").hidden = true;
  $("all").replaceChildren();
  draw();
});

// ---- hands on

function say(words) {
  $("state").textContent = words;
}

const walk = (by) => {
  const next = fills[fills.indexOf(fill) + by];
  if (next) put(next);
};
const playOrPause = () => (player ? pause() : play());
const cycle = (name, size) => change({ [name]: (state[name] + 1) % size });

const KEYS = {
  " ": playOrPause,
  0: fromTheTop,
  ArrowLeft: () => walk(-1),
  ArrowRight: () => walk(1),
  ArrowUp: () => setTempo(tempoOf(fill) + 1),
  ArrowDown: () => setTempo(tempoOf(fill) - 1),
  t: tickHere,
  l: () => change({ loop: !state.loop }),
  f: () => change({ silent: !state.silent }),
  c: () => cycle("click", CLICKS.length),
  i: () => cycle("count", COUNTS.length),
  r: toggleClock,
  p: () => print(),
  a: printAll,
};
for (let rung = 1; rung <= 9; rung++) {
  KEYS[rung] = () => {
    if (rung <= fill.ladder.length) setTempo(fill.ladder[rung - 1]);
  };
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const on = event.target;
  if (on.type === "range" && event.key.startsWith("Arrow")) return;
  if (event.key === " " && (on.type === "checkbox" || (on.tagName === "BUTTON" && on.id !== "play"))) return;
  const act = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  if (!event.repeat || event.key.startsWith("Arrow")) act();
});

// What was pressed by hand lets go of the keyboard, so that space plays and arrows walk; tabbing goes on from there.
addEventListener("click", (event) => {
  if (event.detail > 0) event.target.closest("button, input")?.blur();
});
addEventListener("pointerup", (event) => {
  if (event.target.type === "range") event.target.blur();
});

const PRESSED = {
  play: playOrPause,
  top: fromTheTop,
  back: () => walk(-1),
  next: () => walk(1),
  slower: () => setTempo(tempoOf(fill) - 1),
  faster: () => setTempo(tempoOf(fill) + 1),
  clock: toggleClock,
  print: () => print(),
  "print-all": printAll,
};
for (const [id, act] of Object.entries(PRESSED)) $(id).addEventListener("click", act);
$("loop").addEventListener("change", (event) => change({ loop: event.target.checked }));
$("silent").addEventListener("change", (event) => change({ silent: event.target.checked }));
$("click").addEventListener("input", (event) => change({ click: Number(event.target.value) }));
$("count").addEventListener("input", (event) => change({ count: Number(event.target.value) }));
NARROW.addEventListener("change", draw);

if (!(state.click in CLICKS)) state.click = 2;
if (!(state.count in COUNTS)) state.count = 1;
for (const [i, each] of fills.entries()) staircase.mark(i, each.ladder, reachedOf(each));
showSwitches();
showClock();
put(fill);

Promise.allSettled([...document.fonts].map((face) => face.load())).then(() => {
  document.documentElement.classList.remove("opening");
});

/** For whatever holds this page, and for its tests. */
globalThis.practice = {
  fills,
  data,
  Bank,
  Player,
  standing,
  heardTime,
  recording: () => bytesOf("recording"),
  get player() {
    return player;
  },
};
