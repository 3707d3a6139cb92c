// The practice page: the fills of a lesson, one on the sheet at a time.

import { Bank } from "./bank.mjs";
import { ClockPanel } from "./clock_panel.mjs";
import { findPosition } from "./cursor.mjs";
import { byId, say } from "./elements.mjs";
import { completeFill } from "./fill.mjs";
import { Memory } from "./keep.mjs";
import { Ladder } from "./ladder.mjs";
import { heardTime } from "./output.mjs";
import { printAll } from "./paper.mjs";
import { Playback } from "./playback.mjs";
import { Player } from "./player.mjs";
import { Sheet } from "./sheet.mjs";
import { listenToButtons, listenToKeys, listenToTerms } from "./shortcuts.mjs";
import { Staircase } from "./staircase.mjs";
import { CLICKS, COUNTS, listenToSwitches, showSwitches } from "./switches.mjs";
import { fitTempo, markTempo, passedTempos, startTempo } from "./tempos.mjs";

/** @type {import("./types.d.ts").PageData} */
const data = JSON.parse(byId("data").textContent ?? "");
const fills = data.fills.map(completeFill);
const day = new Date().toLocaleDateString("sv");

/** @type {Memory<import("./types.d.ts").KeptState>} */
const memory = new Memory(data.id, {
  at: "", tempos: {}, reached: {}, loop: true, silent: false, click: 2, count: 1, day, seconds: 0,
});
const state = memory.state;
if (!(state.click in CLICKS)) state.click = 2;
if (!(state.count in COUNTS)) state.count = 1;

const sheet = new Sheet(fills, fills.find((fill) => fill.slug === state.at) ?? fills[0]);
let counted = state.day === day ? state.seconds : 0; // seconds of today that this tab kept or found
const clock = new ClockPanel(counted, (seconds) => {
  const more = seconds - counted;
  memory.update((kept) => ({ day, seconds: (kept.day === day ? kept.seconds : 0) + more }));
  counted = seconds;
});
const staircase = new Staircase(byId("steps"), (index) => {
  show(fills[index]);
  if (byId("sheet").getBoundingClientRect().top < 0) byId("sheet").scrollIntoView();
});
const ladder = new Ladder(byId("rungs"), { set: setTempo, mark });
const playback = new Playback({
  recording,
  data,
  sheet,
  settings: () => ({
    tempo: tempo(), loop: state.loop, silent: state.silent, click: CLICKS[state.click][1], countInBars: state.count,
  }),
  onStart: () => clock.start(),
});

/** @param {import("./types.d.ts").PageFill} fill */
function show(fill) {
  playback.rewind();
  memory.set({ at: fill.slug });
  sheet.show(fill);
  staircase.show(sheet.index);
  ladder.show(fill.ladder, passedTempos(state, fill));
  showTempo();
  say("");
}

function tempo() {
  return startTempo(state, sheet.fill);
}

function showTempo() {
  sheet.showTempo(tempo());
  ladder.press(tempo());
}

/** @param {number} wish */
function setTempo(wish) {
  memory.update((kept) => ({ tempos: { ...kept.tempos, [sheet.fill.slug]: fitTempo(wish) } }));
  playback.applySettings();
  showTempo();
}

/** @param {number} own @param {boolean} passed */
function mark(own, passed) {
  memory.update((kept) => ({ reached: markTempo(kept, sheet.fill, own, passed) }));
  staircase.mark(sheet.index, sheet.fill.ladder, passedTempos(state, sheet.fill));
}

/** Show the tempos that were passed in another tab. */
function showPassed() {
  fills.forEach((fill, index) => staircase.mark(index, fill.ladder, passedTempos(state, fill)));
  ladder.show(sheet.fill.ladder, passedTempos(state, sheet.fill));
  ladder.press(tempo());
}

/** Mark the tempo that is set as passed, or as not passed. */
function markHere() {
  const here = tempo();
  if (!sheet.fill.ladder.includes(here)) {
    say(`${here} bpm is not on the tempo ladder of this fill.`);
    return;
  }
  const passed = !passedTempos(state, sheet.fill).includes(here);
  mark(here, passed);
  ladder.check(here, passed);
  say(passed ? `${here} bpm passed.` : `${here} bpm is not passed any more.`);
}

/** @param {Partial<import("./switches.mjs").Switches>} changes */
function change(changes) {
  memory.set(changes);
  showSwitches(state);
  playback.applySettings();
}

function recording() {
  const text = atob(byId("recording").textContent ?? "");
  return Uint8Array.from(text, (letter) => letter.charCodeAt(0)).buffer;
}

/** @param {number} by */
function walk(by) {
  const next = fills[sheet.index + by];
  if (next) show(next);
}

memory.follow(["reached"], showPassed);

const actions = {
  play: () => playback.playOrPause(),
  top: () => playback.restart(),
  back: () => walk(-1),
  next: () => walk(1),
  slower: () => setTempo(tempo() - 1),
  faster: () => setTempo(tempo() + 1),
  clock: () => clock.toggle(),
  print: () => print(),
  "print-all": () => printAll(fills),
};
listenToButtons(actions);
listenToTerms();
listenToSwitches(change);
listenToKeys({
  " ": actions.play,
  0: actions.top,
  ArrowLeft: actions.back,
  ArrowRight: actions.next,
  ArrowUp: actions.faster,
  ArrowDown: actions.slower,
  t: markHere,
  l: () => change({ loop: !state.loop }),
  f: () => change({ silent: !state.silent }),
  c: () => change({ click: (state.click + 1) % CLICKS.length }),
  i: () => change({ count: (state.count + 1) % COUNTS.length }),
  r: actions.clock,
  p: actions.print,
  a: actions["print-all"],
  ...Object.fromEntries(Array.from({ length: 9 }, (_, i) => [i + 1, () => setTempo(sheet.fill.ladder[i] ?? tempo())])),
});

for (const [i, fill] of fills.entries()) staircase.mark(i, fill.ladder, passedTempos(state, fill));
showSwitches(state);
show(sheet.fill);

Promise.allSettled([...document.fonts].map((face) => face.load())).then(() => {
  document.documentElement.classList.remove("opening");
});

/** For a program that holds this page, and for its tests. */
Object.assign(globalThis, {
  practice: {
    fills,
    data,
    Bank,
    Player,
    findPosition,
    heardTime,
    recording,
    get player() {
      return playback.player;
    },
  },
});
