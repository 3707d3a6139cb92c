// What a take is recorded from: the microphone or an electronic kit.

import { keptDelay } from "./delay.mjs";
import { encodeMidi, encodeWave } from "./takefiles.mjs";

/**
 * Something that records until it is closed.
 * @typedef {object} TakeInput
 * @property {() => void} close
 * @property {(first: number) => File} finish closes it and returns the take; `first` is when the phrase began
 * @property {(first: number) => number | undefined} [begins] where the phrase begins in the take, in seconds
 */

/** @typedef {TakeInput & {blocks: Float32Array[], began: () => number | null}} MicrophoneInput */

/** Start recording from the microphone. @param {AudioContext} context @returns {Promise<MicrophoneInput>} */
export async function openMicrophone(context) {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
  });
  await context.audioWorklet.addModule("/static/recorder.mjs");
  const input = context.createMediaStreamSource(stream);
  const node = new AudioWorkletNode(context, "recorder", { numberOfOutputs: 1 });
  /** @type {Float32Array[]} */
  const blocks = [];
  /** @type {number | null} */
  let began = null;
  let recorded = 0; // samples
  node.port.onmessage = ({ data }) => {
    began ??= /** @type {number} */ (data.time);
    const missed = Math.round((data.time - began) * context.sampleRate) - recorded;
    if (missed > 0) blocks.push(new Float32Array(missed)); // a gap stays silent: what comes after keeps its place
    blocks.push(data.samples);
    recorded += Math.max(missed, 0) + data.samples.length;
  };
  const silence = context.createGain();
  silence.gain.value = 0;
  input.connect(node).connect(silence).connect(context.destination); // a node that leads nowhere is not run
  const close = () => {
    for (const track of stream.getTracks()) track.stop();
    node.disconnect();
    input.disconnect();
  };
  return {
    close,
    blocks,
    began: () => began,
    finish() {
      close();
      return new File([encodeWave(blocks, context.sampleRate)], "take.wav", { type: "audio/wav" });
    },
    /** The machine's delay is removed; unknown before it was measured. */
    begins(first) {
      const delay = keptDelay();
      return delay === null || began === null ? undefined : first - began + delay;
    },
  };
}

/** Start recording from an electronic kit. @returns {Promise<TakeInput>} */
export async function openKitInput() {
  const access = await navigator.requestMIDIAccess();
  const inputs = [...access.inputs.values()];
  if (!inputs.length) throw new Error("No electronic kit is connected.");
  /** @type {[number, number, number][]} */
  const notes = [];
  const began = performance.now();
  const hear = (/** @type {MIDIMessageEvent} */ { data, timeStamp }) => {
    if (data && (data[0] & 0xf0) === 0x90 && data[2]) notes.push([timeStamp - began, data[1], data[2]]);
  };
  for (const input of inputs) input.addEventListener("midimessage", hear);
  const close = () => inputs.forEach((input) => input.removeEventListener("midimessage", hear));
  return {
    close,
    finish() {
      close();
      return new File([encodeMidi(notes)], "take.mid", { type: "audio/midi" });
    },
  };
}
