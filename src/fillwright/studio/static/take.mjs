// Recording a take: a count-in, then the microphone or an electronic kit listens until the landing has rung.

import { kitFor } from "/static/kit.mjs";
import { Stand, completed, wakeUp } from "/static/stand.mjs";
import { midi, wav } from "/static/takefiles.mjs";

const RINGS_SECONDS = 2;
const DELAY_KEY = "fillwright/delay";
const CLICKS = 6;
const CLICK_GAP_SECONDS = 0.5;

const form = document.getElementById("take");
const box = document.getElementById("record");
const state = document.getElementById("state");
const stop = document.getElementById("stop");
const begin = { microphone: document.getElementById("microphone"), kit: document.getElementById("kit") };
const stand = new Stand(document.getElementById("stand"));
let running = null;

if (navigator.mediaDevices?.getUserMedia && globalThis.AudioWorkletNode) start();

function start() {
  box.hidden = false;
  const fetched = fetch(form.dataset.sound).then((answer) => answer.json());
  const ticked = (id) => document.getElementById(id).checked;
  begin.kit.hidden = !navigator.requestMIDIAccess;
  showDelay();

  /** What is played to the student: clicks alone, or the groove too; never the fill. */
  function heard(fill) {
    const [from, to] = fill.span;
    const groove = (row) => row[0] < from || row[0] >= to;
    const before = ticked("groove") ? fill.strokes.slice(0, fill.landing).filter(groove) : [];
    return completed({ ...fill, strokes: before, landing: before.length, first: [] });
  }

  async function take(open) {
    state.textContent = "One bar of clicks, then play.";
    let source = null;
    try {
      const context = wakeUp();
      await context.resume();
      const fill = await fetched;
      stand.fill = heard(fill);
      await kitFor(stand.fill);
      source = await open(context);
      const player = await stand.play({ tempo: Number(form.tempo.value), click: ticked("click") ? 1 : 0 });
      const whole = 60 / player.tempo / fill.unit;
      const first = player.run.anchors[0].time + fill.bar * whole;
      const end = first + (fill.body + fill.bar / 2) * whole + RINGS_SECONDS;
      running = { source, first, context };
      stop.hidden = false;
      await until(context, end, () => running === null);
      stand.stop();
      if (running === null) {
        source.close();
        state.textContent = "Stopped; nothing was kept.";
      } else {
        const file = source.finish(first);
        state.textContent = "Listening to it.";
        send(file, source.begins?.(first));
      }
    } catch (error) {
      state.textContent =
        error.name === "NotAllowedError" ? "The browser was not allowed to listen; allow it and try again." : String(error.message ?? error);
      source?.close?.();
      stand.stop();
    }
    stop.hidden = true;
    running = null;
  }

  let busy = false;
  const begun = (open) => async () => {
    if (busy) return;
    busy = true;
    await take(open);
    busy = false;
  };
  begin.microphone.addEventListener("click", begun(openMicrophone));
  begin.kit.addEventListener("click", begun(openKitInput));
  stop.addEventListener("click", () => (running = null));
  document.getElementById("delay").addEventListener("click", measure);
}

const until = (context, end, stopped) =>
  new Promise((resolve) => {
    const look = () => (context.currentTime >= end || stopped() ? resolve() : setTimeout(look, 50));
    look();
  });

function send(file, beginsSeconds) {
  const files = new DataTransfer();
  files.items.add(file);
  form.recording.files = files.files;
  if (beginsSeconds !== undefined) {
    const field = form.begins ?? form.appendChild(Object.assign(document.createElement("input"), { type: "hidden", name: "begins" }));
    field.value = beginsSeconds.toFixed(4);
  }
  form.requestSubmit();
}

async function openMicrophone(context) {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
  });
  await context.audioWorklet.addModule("/static/recorder.mjs");
  const input = context.createMediaStreamSource(stream);
  const node = new AudioWorkletNode(context, "recorder", { numberOfOutputs: 1 });
  const blocks = [];
  let began = null;
  let heard = 0; // samples
  node.port.onmessage = ({ data }) => {
    began ??= data.time;
    const missed = Math.round((data.time - began) * context.sampleRate) - heard;
    if (missed > 0) blocks.push(new Float32Array(missed)); // nothing came for a while: what comes after stays in its place
    blocks.push(data.samples);
    heard += Math.max(missed, 0) + data.samples.length;
  };
  const quiet = context.createGain();
  quiet.gain.value = 0;
  input.connect(node).connect(quiet).connect(context.destination); // a node that leads nowhere is not run
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
      return new File([wav(blocks, context.sampleRate)], "take.wav", { type: "audio/wav" });
    },
    /** Where the phrase begins in the recording, the machine's delay removed; unknown before it was measured. */
    begins(first) {
      const delay = remembered();
      return delay === null || began === null ? undefined : first - began + delay;
    },
  };
}

async function openKitInput() {
  const access = await navigator.requestMIDIAccess();
  const inputs = [...access.inputs.values()];
  if (!inputs.length) throw new Error("No electronic kit is connected.");
  const notes = [];
  const began = performance.now();
  const hear = ({ data, timeStamp }) => {
    if ((data[0] & 0xf0) === 0x90 && data[2]) notes.push([timeStamp - began, data[1], data[2]]);
  };
  for (const input of inputs) input.addEventListener("midimessage", hear);
  const close = () => inputs.forEach((input) => input.removeEventListener("midimessage", hear));
  return {
    close,
    finish() {
      close();
      return new File([midi(notes)], "take.mid", { type: "audio/midi" });
    },
  };
}

// ---- the delay of this machine, from loudspeaker to microphone

function remembered() {
  try {
    const kept = localStorage.getItem(DELAY_KEY);
    return kept === null ? null : Number(kept);
  } catch {
    return null;
  }
}

function showDelay(words = "") {
  const delay = remembered();
  const known = delay === null ? "" : `It is ${Math.round(delay * 1000)} ms.`;
  document.getElementById("delay-words").textContent = words || known;
}

/** Clicks through the loudspeaker, heard by the microphone: their middle delay is kept. */
async function measure() {
  showDelay("Take the headphones off and hold the microphone to the loudspeaker: six clicks.");
  let source = null;
  try {
    const context = wakeUp();
    await context.resume();
    source = await openMicrophone(context);
    const first = context.currentTime + 0.6;
    const times = Array.from({ length: CLICKS }, (_, i) => first + i * CLICK_GAP_SECONDS);
    for (const time of times) click(context, time);
    await until(context, times.at(-1) + CLICK_GAP_SECONDS, () => false);
    source.close();
    const delays = times.map((time) => delayAfter(source, context.sampleRate, time)).sort((a, b) => a - b);
    const [low, middle, high] = [delays[1], delays[CLICKS / 2], delays[CLICKS - 2]];
    if (!(high - low < 0.01)) throw new Error("The clicks were not heard clearly; come nearer and try again.");
    localStorage.setItem(DELAY_KEY, String(middle));
    showDelay();
  } catch (error) {
    source?.close();
    showDelay(String(error.message ?? error));
  }
}

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

/** How long after a moment the microphone hears something loud, up to the next click. */
function delayAfter({ blocks, began }, rate, time) {
  const samples = Float32Array.from(blocks.flatMap((block) => [...block]));
  const from = Math.round((time - began()) * rate);
  const window = samples.subarray(from, from + Math.round(CLICK_GAP_SECONDS * rate));
  const peak = window.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
  const heard = window.findIndex((sample) => Math.abs(sample) > peak / 3);
  return peak > 0.01 && heard >= 0 ? heard / rate : NaN;
}
