// Recording a take: a count-in, then the microphone or an electronic kit until the landing has rung.

import { completeFill } from "/sound/fill.mjs";
import { wholeSeconds } from "/sound/timing.mjs";
import { measureDelay, showDelay } from "./delay.mjs";
import { byId, isTicked } from "./elements.mjs";
import { kitFor } from "./kit.mjs";
import { Stand, wakeUp } from "./stand.mjs";
import { openKitInput, openMicrophone } from "./take_inputs.mjs";

const RING_SECONDS = 2; // a crash may ring for so long after the landing; ours, not measured
const LOOK_MS = 50;

/** @typedef {import("./types.d.ts").SentFill} SentFill */
/** @typedef {import("./take_inputs.mjs").TakeInput} TakeInput */

const form = /** @type {HTMLFormElement} */ (byId("take"));
const stand = new Stand(byId("stand"));
/** @type {Promise<SentFill> | null} */
let fetched = null;
let recording = false;
let busy = false;

if ("mediaDevices" in navigator && "AudioWorkletNode" in globalThis) start();

function start() {
  fetched = fetch(form.dataset.sound ?? "").then((response) => response.json());
  byId("record").hidden = false;
  byId("kit").hidden = !("requestMIDIAccess" in navigator);
  showDelay();
  byId("microphone").addEventListener("click", () => takeOnce(openMicrophone));
  byId("kit").addEventListener("click", () => takeOnce(openKitInput));
  byId("stop").addEventListener("click", () => (recording = false));
  byId("delay").addEventListener("click", () =>
    measureDelay(wakeUp(), openMicrophone, (context, end) => wait(context, end, () => false)));
}

/** Record one take at a time. @param {(context: AudioContext) => Promise<TakeInput>} open */
async function takeOnce(open) {
  if (busy) return;
  busy = true;
  await take(open);
  busy = false;
}

/** @param {(context: AudioContext) => Promise<TakeInput>} open */
async function take(open) {
  show("One bar of clicks, then play.");
  /** @type {TakeInput | null} */
  let source = null;
  try {
    const context = wakeUp();
    await context.resume();
    const fill = chooseAudible(/** @type {SentFill} */ (await fetched));
    stand.fill = fill;
    await kitFor(fill);
    source = await open(context);
    const player = await stand.play({ tempo: Number(form.tempo.value), click: isTicked("click") ? 1 : 0 });
    if (!player?.run) throw new Error("The take was not started. Try again.");
    const whole = wholeSeconds(fill, player.tempo);
    const first = player.run.anchors[0].time + fill.bar * whole;
    recording = true;
    byId("stop").hidden = false;
    await wait(context, first + (fill.body + fill.bar / 2) * whole + RING_SECONDS, () => !recording);
    stand.stop();
    if (recording) {
      const file = source.finish(first);
      show("Listening to it.");
      send(file, source.begins?.(first));
    } else {
      source.close();
      show("Stopped. Nothing was kept.");
    }
  } catch (error) {
    show(describeError(error));
    source?.close();
    stand.stop();
  }
  byId("stop").hidden = true;
  recording = false;
}

/** Return what the student hears: clicks alone, or the groove too; never the fill. @param {SentFill} fill */
function chooseAudible(fill) {
  const [from, to] = fill.span;
  const before = fill.strokes.slice(0, fill.landing).filter((row) => row[0] < from || row[0] >= to);
  const strokes = isTicked("groove") ? before : [];
  return completeFill({ ...fill, strokes, landing: strokes.length, first: [] });
}

/** @param {unknown} error */
function describeError(error) {
  if (!(error instanceof Error)) return String(error);
  return error.name === "NotAllowedError" ? "The browser may not use the microphone. Allow it and try again." : error.message;
}

/** @param {string} words */
function show(words) {
  byId("state").textContent = words;
}

/** @param {AudioContext} context @param {number} end @param {() => boolean} stopped @returns {Promise<void>} */
function wait(context, end, stopped) {
  return new Promise((resolve) => {
    const look = () => {
      if (context.currentTime >= end || stopped()) resolve();
      else setTimeout(look, LOOK_MS);
    };
    look();
  });
}

/** Send a take with the form. @param {File} file @param {number} [beginsSeconds] where the phrase begins in it */
function send(file, beginsSeconds) {
  const files = new DataTransfer();
  files.items.add(file);
  form.recording.files = files.files;
  if (beginsSeconds !== undefined) {
    const hidden = Object.assign(document.createElement("input"), { type: "hidden", name: "begins" });
    const field = form.begins ?? form.appendChild(hidden);
    field.value = beginsSeconds.toFixed(4);
  }
  form.requestSubmit();
}
