// Recording a take: a count-in, then the microphone or an electronic kit listens until the landing has rung.

import { Stand, completed, openKit } from "/static/stand.mjs";

const RINGS_SECONDS = 2;
const DELAY_KEY = "fillwright/delay";
const CLICKS = 6;
const CLICK_GAP_SECONDS = 0.5;
const TICKS_PER_MS = 0.96; // 480 ticks a quarter at 120 beats a minute

const form = document.getElementById("take");
const box = document.getElementById("record");
const state = document.getElementById("state");
const stop = document.getElementById("stop");
const begin = { microphone: document.getElementById("microphone"), kit: document.getElementById("kit") };
const stand = new Stand(document.getElementById("stand"));
let running = null;

if (navigator.mediaDevices?.getUserMedia && globalThis.AudioWorkletNode) start();

async function start() {
  box.hidden = false;
  const fill = await fetch(form.dataset.sound).then((answer) => answer.json());
  const ticked = (id) => document.getElementById(id).checked;
  begin.kit.hidden = !navigator.requestMIDIAccess;
  showDelay();

  /** What is played to the student: clicks alone, or the groove too; never the fill. */
  function heard() {
    const [from, to] = fill.span;
    const groove = (row) => row[0] < from || row[0] >= to;
    const before = ticked("groove") ? fill.strokes.slice(0, fill.landing).filter(groove) : [];
    return completed({ ...fill, strokes: before, landing: before.length, first: [] });
  }

  async function take(open) {
    state.textContent = "One bar of clicks, then play.";
    let source = null;
    try {
      const { context } = await openKit();
      await context.resume();
      source = await open(context);
      stand.fill = heard();
      const player = await stand.play({ tempo: Number(form.tempo.value), click: ticked("click") ? 1 : 0 });
      const whole = 60 / player.tempo / fill.unit;
      const first = player.run.anchors[0].time + fill.bar * whole;
      const end = first + (fill.body + fill.bar / 2) * whole + RINGS_SECONDS;
      running = { source, first, context };
      stop.hidden = false;
      await until(context, end, () => running === null);
      stand.stop();
      const file = source.finish(first);
      state.textContent = "Listening to it.";
      send(file, source.begins?.(first));
    } catch (error) {
      state.textContent =
        error.name === "NotAllowedError" ? "The browser was not allowed to listen; allow it and try again." : String(error.message ?? error);
      source?.close?.();
      stand.stop();
    }
    stop.hidden = true;
    running = null;
  }

  begin.microphone.addEventListener("click", () => running ?? take(openMicrophone));
  begin.kit.addEventListener("click", () => running ?? take(openKitInput));
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
  node.port.onmessage = ({ data }) => {
    began ??= data.time;
    blocks.push(data.samples);
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

/** Sixteen bits, one channel. */
function wav(blocks, rate) {
  const count = blocks.reduce((sum, block) => sum + block.length, 0);
  const view = new DataView(new ArrayBuffer(44 + 2 * count));
  const text = (at, letters) => [...letters].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + 2 * count, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, 2 * rate, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, 2 * count, true);
  let at = 44;
  for (const block of blocks) {
    for (const sample of block) {
      view.setInt16(at, Math.round(Math.max(-1, Math.min(1, sample)) * 32767), true);
      at += 2;
    }
  }
  return view.buffer;
}

async function openKitInput(context) {
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
  void context;
  return {
    close,
    finish() {
      close();
      return new File([midi(notes)], "take.mid", { type: "audio/midi" });
    },
  };
}

/** A Standard MIDI File of format 0 with the notes on channel 10. */
function midi(notes) {
  const track = [0, 0xff, 0x51, 3, 0x07, 0xa1, 0x20];
  const events = notes.flatMap(([ms, key, velocity]) => {
    const tick = Math.max(0, Math.round(ms * TICKS_PER_MS));
    return [[tick, 0x99, key, velocity], [tick + 30, 0x89, key, 0]];
  });
  events.sort((one, other) => one[0] - other[0]);
  let last = 0;
  for (const [tick, ...bytes] of events) {
    track.push(...lengthOf(tick - last), ...bytes);
    last = tick;
  }
  track.push(0, 0xff, 0x2f, 0);
  const four = (n) => [n >>> 24, (n >>> 16) & 255, (n >>> 8) & 255, n & 255];
  const head = [0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0x01, 0xe0];
  return new Uint8Array([...head, 0x4d, 0x54, 0x72, 0x6b, ...four(track.length), ...track]);
}

function lengthOf(ticks) {
  const bytes = [ticks & 127];
  for (let rest = ticks >> 7; rest; rest >>= 7) bytes.unshift((rest & 127) | 128);
  return bytes;
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
    const { context } = await openKit();
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
