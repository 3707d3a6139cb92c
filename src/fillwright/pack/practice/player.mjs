// Plays a phrase on the clock of Web Audio.
//
// A timer only wakes `pump`, which hands the next moment's sounds to the audio clock; every time is calculated
// from places in the music, never from when the timer came. An OfflineAudioContext goes the same way: start,
// pump(Infinity), startRendering. Places are in whole notes from the start of the phrase as played.

import { connectGain, connectSoftLimit } from "./output.mjs";
import { SAME, playedItems } from "./sequence.mjs";
import { graceSeconds, listBounces, wholeSeconds } from "./timing.mjs";

const CLICK_VELOCITY = 112; // MIDI velocity of a click, as in the play-alongs
const REACH_SECONDS = 0.25; // grace notes sound before their stroke by less than this
const LEAD_SECONDS = 0.08; // from Play to the first sound
const TAIL_SECONDS = 2.5; // a crash may ring for so long after the last bar
const FADE_SECONDS = 0.025; // on Stop
const COUNT_LEVEL = 1.5; // loudness of the count-in beside the click; ours, not measured
const RING_SECONDS = 8; // a cymbal struck longer ago needs no choke

/** @typedef {import("./types.d.ts").PlayedFill} PlayedFill */
/** @typedef {import("./types.d.ts").Rules} Rules */
/** @typedef {import("./types.d.ts").SoundSource} SoundSource */
/** @typedef {{name: string, time: number, level: number, source: AudioBufferSourceNode, gain: GainNode, stopped: number}} Ring */
/**
 * One run from Start to Stop. Anchors say which place sounds when, and the seconds of a whole note from there on.
 * @typedef {object} Run
 * @property {Iterator<import("./types.d.ts").Item, void>} items
 * @property {import("./types.d.ts").Item | null} next
 * @property {number} from
 * @property {{time: number, place: number, whole: number}[]} anchors
 * @property {number} pumped time up to which everything was handed over
 * @property {number} lastRepetition
 * @property {number} ends
 * @property {Map<string, number>} counts strokes of each sound so far
 * @property {(number | undefined)[]} lastOf time of each limb's last stroke
 * @property {Ring[]} ringing
 * @property {Set<AudioBufferSourceNode>} sources
 * @property {GainNode} all
 * @property {GainNode} click
 * @property {GainNode} count
 */

/** Plays one fill in its phrase. */
export class Player {
  /**
   * @param {BaseAudioContext} context live or offline
   * @param {SoundSource} bank
   * @param {PlayedFill} fill
   * @param {Rules} rules how strokes sound
   * @param {AudioNode} output
   */
  constructor(context, bank, fill, rules, output = context.destination) {
    this.context = context;
    this.bank = bank;
    this.fill = fill;
    this.rules = rules;
    this.repetitions = 1; // Infinity to loop
    this.silent = false; // true where the fill is left to the student
    /** @type {((name: string, seconds: number, velocity: number) => void) | null} called for every sound */
    this.onStrike = null;
    this.out = connectSoftLimit(context, output);
    this.clickLevel = 1;
    this.tempo = 90;
    /** @type {Run | null} */
    this.run = null;
  }

  get playing() {
    return this.run !== null;
  }

  /** Set the loudness of the click, 0 for none; the count-in always sounds. @param {number} level */
  setClick(level) {
    this.clickLevel = level;
    this.run?.click.gain.setTargetAtTime(level, this.context.currentTime, 0.01);
  }

  /** Set the tempo; what was handed over already keeps the old one. @param {number} tempo in the meter's bpm */
  setTempo(tempo) {
    const run = this.run;
    this.tempo = tempo;
    if (!run) return;
    const from = Math.max(run.pumped, run.anchors[run.anchors.length - 1].time);
    const place = placeAt(run, from);
    run.anchors.push({ time: from, place, whole: wholeSeconds(this.fill, tempo) });
    if (run.ends < Infinity) this.#finish(run);
  }

  /** Start from a place in the phrase, after a count-in. `at` is on the context's clock. */
  start({ from = 0, countInBars = 1, at = this.context.currentTime + LEAD_SECONDS } = {}) {
    this.stop();
    const whole = wholeSeconds(this.fill, this.tempo);
    const place = from - countInBars * this.fill.bar;
    const all = connectGain(this.context, 1, this.out);
    /** @type {Run} */
    const run = {
      items: playedItems(this.fill, from, countInBars, (repetition) => {
        const more = repetition + 1 < this.repetitions;
        if (!more) run.lastRepetition = repetition;
        return more;
      }),
      next: null,
      from,
      anchors: [{ time: at, place, whole }],
      pumped: at,
      lastRepetition: Infinity,
      ends: Infinity,
      counts: new Map(),
      lastOf: [],
      ringing: [],
      sources: new Set(),
      all,
      click: connectGain(this.context, this.clickLevel, all),
      count: connectGain(this.context, COUNT_LEVEL, all),
    };
    this.run = run;
    run.next = run.items.next().value ?? null;
  }

  /** Hand over everything that starts before a moment on the context's clock. @param {number} until */
  pump(until) {
    const run = this.run;
    if (!run) return;
    while (run.next && timeOf(run, run.next.at) <= until + REACH_SECONDS) {
      this.#sound(run, run.next, timeOf(run, run.next.at));
      const { value, done } = run.items.next();
      run.next = value ?? null;
      if (done) this.#finish(run);
    }
    run.pumped = Math.max(run.pumped, until + REACH_SECONDS);
  }

  /** Stop at once, with a short fade. */
  stop() {
    const run = this.run;
    if (!run) return;
    this.run = null;
    const now = this.context.currentTime;
    run.all.gain.setTargetAtTime(0, now, FADE_SECONDS / 3);
    for (const source of run.sources) source.stop(now + 2 * FADE_SECONDS);
  }

  /** Return where the music is at a moment; null before the start and after the end. @param {number} time */
  where(time) {
    const run = this.run;
    if (!run || time < run.anchors[0].time || time >= run.ends) return null;
    const place = placeAt(run, time);
    if (place < run.from) return { place, repetition: 0, counting: true };
    const repetition = Math.min(Math.floor(place / this.fill.body + SAME), run.lastRepetition);
    return { place: place - repetition * this.fill.body, repetition, counting: false };
  }

  /** Return true once everything has been played. @param {number} time */
  overAt(time) {
    return this.run !== null && time >= this.run.ends;
  }

  /** @param {Run} run */
  #finish(run) {
    const { body, bar, landing, strokes } = this.fill;
    const count = run.lastRepetition === Infinity ? 1 : run.lastRepetition + 1;
    const end = count * body + (landing < strokes.length ? bar : 0);
    run.ends = Math.min(timeOf(run, end), timeOf(run, count * body) + TAIL_SECONDS);
  }

  /** @param {Run} run @param {import("./types.d.ts").Item} item @param {number} time */
  #sound(run, { click, level = 1, counted, row }, time) {
    if (click) this.#strike(run, click, CLICK_VELOCITY, time, counted ? run.count : run.click, level);
    else if (row) this.#stroke(run, row, time);
  }

  /** @param {Run} run @param {import("./types.d.ts").StrokeRow} row @param {number} time */
  #stroke(run, row, time) {
    const [at, length, limb, sound, velocity, graces = 0, graceSound, graceVelocity, bounceSound = -1] = row;
    const { names, bounce } = this.rules;
    const { lastOf, anchors, all } = run;
    const [start, end] = this.fill.span;
    const audible = !(this.silent && at >= start - SAME && at < end - SAME);
    const other = limb ^ 1;
    if (graces) {
      const last = lastOf[other];
      const ahead = graceSeconds(graces, last === undefined ? Infinity : time - last, this.rules);
      if (audible) {
        for (const distance of ahead) this.#strike(run, names[graceSound], graceVelocity, time - distance, all);
      }
      lastOf[other] = time;
    }
    lastOf[limb] = time;
    if (!audible) return;
    this.#strike(run, names[sound], velocity, time, all);
    if (bounceSound < 0) return;
    for (const [after, share] of listBounces(length * anchors[anchors.length - 1].whole, bounce)) {
      this.#strike(run, names[bounceSound], Math.max(1, Math.round(velocity * share)), time + after, all);
    }
  }

  /**
   * @param {Run} run @param {string} name @param {number} velocity @param {number} seconds
   * @param {GainNode} bus @param {number} factor
   */
  #strike(run, name, velocity, seconds, bus, factor = 1) {
    const rate = this.context.sampleRate;
    const time = Math.max(0, Math.round(seconds * rate) / rate);
    const count = run.counts.get(name) ?? 0;
    run.counts.set(name, count + 1);
    const { buffer, level: picked } = this.bank.pick(name, velocity, count);
    const level = picked * factor;
    const source = this.context.createBufferSource();
    const gain = connectGain(this.context, level);
    source.buffer = buffer;
    source.connect(gain).connect(bus);
    this.#choke(run, name, time);
    if (this.rules.chokes[name]) run.ringing.push({ name, time, level, source, gain, stopped: Infinity });
    source.start(time);
    run.sources.add(source);
    source.onended = () => {
      run.sources.delete(source);
      gain.disconnect();
    };
    this.onStrike?.(name, seconds, velocity);
  }

  /** End what rings and is stopped by this stroke, with a short fade. @param {Run} run @param {string} name @param {number} time */
  #choke(run, name, time) {
    for (const ring of run.ringing) {
      if (ring.time >= time || ring.stopped <= time || !this.rules.chokes[ring.name].includes(name)) continue;
      ring.stopped = time;
      const curve = Float32Array.from({ length: 33 }, (_, i) => ring.level * Math.cos((i / 32) * (Math.PI / 2)) ** 2);
      ring.gain.gain.cancelScheduledValues(0);
      ring.gain.gain.setValueCurveAtTime(curve, time, this.rules.chokeSeconds);
      ring.source.stop(time + this.rules.chokeSeconds + 0.01);
    }
    run.ringing = run.ringing.filter((ring) => ring.stopped === Infinity && time - ring.time < RING_SECONDS);
  }
}

/** Return when a place sounds. @param {Run} run @param {number} place */
function timeOf(run, place) {
  const { time, place: from, whole } = run.anchors[run.anchors.length - 1];
  return time + (place - from) * whole;
}

/** Return the place that sounds at a moment. @param {Run} run @param {number} time */
function placeAt(run, time) {
  const anchors = run.anchors;
  let i = anchors.length - 1;
  while (i > 0 && anchors[i].time > time) i--;
  return anchors[i].place + (time - anchors[i].time) / anchors[i].whole;
}
