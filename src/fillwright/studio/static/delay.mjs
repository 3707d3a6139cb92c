// The delay of this machine from loudspeaker to microphone: measured with clicks, kept in the browser.

import { byId } from "./elements.mjs";

const DELAY_KEY = "fillwright/delay"; // in the browser's storage; older pages wrote the same name
const CLICKS = 6; // played to measure the delay; ours, not measured
const CLICK_GAP_SECONDS = 0.5; // more than any machine's delay; ours, not measured
const CLEAR_SECONDS = 0.01; // the middle clicks must agree so closely; ours, not measured

/** Return the delay in seconds, or null before it was measured. */
export function keptDelay() {
  try {
    const kept = localStorage.getItem(DELAY_KEY);
    return kept === null ? null : Number(kept);
  } catch {
    return null;
  }
}

/** Show the delay, or words about it. */
export function showDelay(words = "") {
  const delay = keptDelay();
  const known = delay === null ? "" : `It is ${Math.round(delay * 1000)} ms.`;
  byId("delay-words").textContent = words || known;
}

/**
 * Play clicks, record them with the microphone and keep their middle delay.
 * @param {AudioContext} context
 * @param {(context: AudioContext) => Promise<import("./take_inputs.mjs").MicrophoneInput>} open
 * @param {(context: AudioContext, end: number) => Promise<void>} wait until a time of the context
 */
export async function measureDelay(context, open, wait) {
  showDelay("Take the headphones off and hold the microphone to the loudspeaker: six clicks.");
  let source = null;
  try {
    await context.resume();
    source = await open(context);
    const first = context.currentTime + 0.6;
    const times = Array.from({ length: CLICKS }, (_, i) => first + i * CLICK_GAP_SECONDS);
    for (const time of times) click(context, time);
    await wait(context, times[CLICKS - 1] + CLICK_GAP_SECONDS);
    source.close();
    const { blocks, began } = source;
    const delays = times.map((time) => findDelay(blocks, (time - (began() ?? 0)) * context.sampleRate, context.sampleRate));
    localStorage.setItem(DELAY_KEY, String(middleDelay(delays)));
    showDelay();
  } catch (error) {
    source?.close();
    showDelay(error instanceof Error ? error.message : String(error));
  }
}

/** Return the middle of some delays in seconds. @param {number[]} delays NaN where nothing was recorded */
export function middleDelay(delays) {
  const sorted = [...delays].sort((a, b) => a - b);
  const [low, middle, high] = [sorted[1], sorted[CLICKS / 2], sorted[CLICKS - 2]];
  if (!(high - low < CLEAR_SECONDS)) throw new Error("The clicks were not clear. Come nearer and try again.");
  return middle;
}

/** @param {AudioContext} context @param {number} time */
function click(context, time) {
  const tone = context.createOscillator();
  const gain = context.createGain();
  tone.frequency.value = 2000;
  gain.gain.setValueAtTime(0.8, time);
  gain.gain.exponentialRampToValueAtTime(0.001, time + 0.03);
  tone.connect(gain).connect(context.destination);
  tone.start(time);
  tone.stop(time + 0.04);
}

/**
 * Return how long after a moment something loud was recorded, up to the next click; NaN for nothing.
 * @param {ArrayLike<number>[]} blocks
 * @param {number} start of the click, in samples
 * @param {number} rate samples a second
 */
export function findDelay(blocks, start, rate) {
  const samples = Float32Array.from(blocks.flatMap((block) => Array.from(block)));
  const from = Math.round(start);
  const window = samples.subarray(from, from + Math.round(CLICK_GAP_SECONDS * rate));
  const peak = window.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
  const at = window.findIndex((sample) => Math.abs(sample) > peak / 3);
  return peak > 0.01 && at >= 0 ? at / rate : NaN;
}
