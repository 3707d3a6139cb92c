// Plays a phrase on the clock of Web Audio.
//
// A timer only wakes `pump`, which hands over to the audio clock whatever sounds in the next moment; every time is
// reckoned from places in the music, never from when the timer came. An OfflineAudioContext goes the same way:
// start, pump(Infinity), startRendering.
//
// Places are in whole notes from the start of the phrase as played. A stroke is a row
// [at, length, limb, sound, velocity, graces, grace sound, grace velocity, bounce sound], cut off after its last use;
// limbs 0 and 1 are the right and the left hand.

const CLICK_VELOCITY = 112;
const REACH_SECONDS = 0.25; // grace notes stand before their stroke by less than this
const SAME = 1e-9;
const LEAD_SECONDS = 0.08;
const TAIL_SECONDS = 2.5;
const FADE_SECONDS = 0.025;
const COUNT_LEVEL = 1.5;
const BETWEEN_LEVEL = 0.4;

/** Seconds of a whole note at a tempo in the meter's beats a minute. */
export function wholeSeconds(fill, tempo) {
  return 60 / tempo / fill.unit;
}

/** How far before a stroke its grace notes sound, in seconds; less where the hand has no time for more. */
export function graceSeconds(graces, room, rules) {
  const ahead = rules.spacings[graces].map((factor) => (factor * rules.flamMs) / 1000);
  const squeeze = Math.min(1, room / 3 / ahead[0]);
  return ahead.map((distance) => distance * squeeze);
}

/** The bounces of a buzz: seconds after its first contact, and loudness as a part of its velocity. */
export function bounces(lengthSeconds, { first, last, shrinks, starts, ends, longest }) {
  const made = [];
  const end = Math.min(lengthSeconds, longest);
  for (let gap = first, at = first; at + last / 2 < end; at += gap) {
    made.push([at, starts + ((ends - starts) * at) / end]);
    gap = Math.max(gap * shrinks, last);
  }
  return made;
}

/** The moment that is heard now, on the context's clock: what the loudspeaker plays lags what is reckoned. */
export function heardTime(context) {
  const stamp = context.getOutputTimestamp?.();
  if (stamp?.contextTime > 0 && stamp.performanceTime > 0) {
    const heard = stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
    const behind = context.currentTime - heard;
    if (behind > -0.05 && behind < 1) return heard;
  }
  return context.currentTime - (context.outputLatency || context.baseLatency || 0);
}

/** What is played, in order of place: clicks, strokes, and at the end of each pass a turn. */
function* playedItems(fill, from, countInBars, goesOn) {
  for (let bar = -countInBars; bar < 0; bar++) {
    yield* clicksOf(fill, fill.counted, from + bar * fill.bar, { counted: true });
  }
  for (let pass = 0; ; pass++) {
    const start = pass * fill.body;
    const items = passItems(fill, pass ? fill.again : fill.strokes.slice(0, fill.landing), start);
    yield* pass ? items : items.filter((item) => item.at >= from - SAME);
    yield { at: start + fill.body, turn: true };
    if (goesOn(pass)) continue;
    const landing = fill.strokes.slice(fill.landing);
    if (landing.length) yield { at: start + fill.body, click: "accented click" };
    yield* landing.map((row) => ({ at: start + row[0], row }));
    return;
  }
}

function passItems(fill, rows, start) {
  const bars = Math.round(fill.body / fill.bar);
  const items = [];
  for (let bar = 0; bar < bars; bar++) items.push(...clicksOf(fill, fill.beats, start + bar * fill.bar));
  for (const row of rows) items.push({ at: start + row[0], row });
  return items.sort((a, b) => a.at - b.at);
}

function clicksOf(fill, places, start, also = {}) {
  return places.map((at) => ({
    at: start + at,
    click: at ? "click" : "accented click",
    level: fill.beats.includes(at) ? 1 : BETWEEN_LEVEL,
    ...also,
  }));
}

/** Plays one fill in its phrase. */
export class Player {
  /**
   * @param context audio context, live or offline
   * @param bank a Bank
   * @param fill what the page's data holds of a fill
   * @param rules how strokes sound: {names, flamMs, spacings, bounce, chokes, chokeSeconds}
   * @param output where it goes; the context's destination by default
   */
  constructor(context, bank, fill, rules, output = context.destination) {
    Object.assign(this, { context, bank, fill, rules });
    this.passes = 1; // how often the phrase is played; Infinity to loop
    this.silent = false; // whether the fill is left to the student
    this.onStrike = null; // told of every sound: (name, seconds, velocity)
    this.out = softCeiling(context, output);
    this.clickLevel = 1;
    this.tempo = 90;
    this.run = null;
  }

  get playing() {
    return this.run !== null;
  }

  /** Loudness of the click, 0 for none; the count-in is always heard. */
  setClick(level) {
    this.clickLevel = level;
    this.run?.click.gain.setTargetAtTime(level, this.context.currentTime, 0.01);
  }

  /** Another tempo; what was handed over already keeps the old one. */
  setTempo(tempo) {
    const run = this.run;
    this.tempo = tempo;
    if (!run) return;
    const from = Math.max(run.pumped, run.anchors.at(-1).time);
    const place = this.#placeAt(from);
    run.anchors.push({ time: from, place, whole: wholeSeconds(this.fill, tempo) });
    if (run.ends < Infinity) this.#finish();
  }

  /** Start, from a place in the phrase, after a count-in. `at` is on the context's clock. */
  start({ from = 0, countInBars = 1, at = this.context.currentTime + LEAD_SECONDS } = {}) {
    this.stop();
    const whole = wholeSeconds(this.fill, this.tempo);
    const place = from - countInBars * this.fill.bar;
    const items = playedItems(this.fill, from, countInBars, (pass) => {
      const more = pass + 1 < this.passes;
      if (!more) this.run.lastPass = pass;
      return more;
    });
    this.run = {
      items,
      next: null,
      from,
      anchors: [{ time: at, place, whole }],
      pumped: at,
      lastPass: Infinity,
      ends: Infinity,
      counts: new Map(),
      lastOf: [],
      ringing: [],
      sources: new Set(),
      ...this.#buses(),
    };
    this.run.next = items.next().value;
  }

  /** Hand over everything that starts before a moment on the context's clock. */
  pump(until) {
    const run = this.run;
    if (!run) return;
    while (run.next && this.#timeOf(run.next.at) <= until + REACH_SECONDS) {
      this.#sound(run.next, this.#timeOf(run.next.at));
      const { value, done } = run.items.next();
      run.next = done ? null : value;
      if (done) this.#finish();
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

  /** Where the music is at a moment: {place, pass, counting}; null before the start and after the end. */
  where(time) {
    const run = this.run;
    if (!run || time < run.anchors[0].time || time >= run.ends) return null;
    const place = this.#placeAt(time);
    if (place < run.from) return { place, pass: 0, counting: true };
    const pass = Math.min(Math.floor(place / this.fill.body + SAME), run.lastPass);
    return { place: place - pass * this.fill.body, pass, counting: false };
  }

  /** Whether everything has been played. */
  overAt(time) {
    return this.run !== null && time >= this.run.ends;
  }

  #buses() {
    const node = (level, to) => {
      const gain = this.context.createGain();
      gain.gain.value = level;
      gain.connect(to);
      return gain;
    };
    const all = node(1, this.out);
    return { all, click: node(this.clickLevel, all), count: node(COUNT_LEVEL, all) };
  }

  #finish() {
    const run = this.run;
    const bars = run.lastPass === Infinity ? 1 : run.lastPass + 1;
    const end = bars * this.fill.body + (this.fill.landing < this.fill.strokes.length ? this.fill.bar : 0);
    run.ends = Math.min(this.#timeOf(end), this.#timeOf(bars * this.fill.body) + TAIL_SECONDS);
  }

  #timeOf(place) {
    const { time, place: from, whole } = this.run.anchors.at(-1);
    return time + (place - from) * whole;
  }

  #placeAt(time) {
    const anchors = this.run.anchors;
    let i = anchors.length - 1;
    while (i > 0 && anchors[i].time > time) i--;
    return anchors[i].place + (time - anchors[i].time) / anchors[i].whole;
  }

  #sound(item, time) {
    if (item.turn) return;
    if (item.click) this.#click(item, time);
    else this.#stroke(item.row, time);
  }

  #click({ click, level = 1, counted }, time) {
    this.#strike(click, CLICK_VELOCITY, time, counted ? this.run.count : this.run.click, level);
  }

  #stroke([at, length, limb, sound, velocity, graces = 0, graceSound, graceVelocity, bounceSound = -1], time) {
    const { names, bounce } = this.rules;
    const { lastOf, anchors, all } = this.run;
    const [start, end] = this.fill.span;
    const heard = !(this.silent && at >= start - SAME && at < end - SAME);
    const other = limb ^ 1;
    if (graces) {
      const room = lastOf[other] === undefined ? Infinity : time - lastOf[other];
      const ahead = graceSeconds(graces, room, this.rules);
      if (heard) for (const each of ahead) this.#strike(names[graceSound], graceVelocity, time - each, all);
      lastOf[other] = time;
    }
    lastOf[limb] = time;
    if (!heard) return;
    this.#strike(names[sound], velocity, time, all);
    if (bounceSound < 0) return;
    for (const [after, part] of bounces(length * anchors.at(-1).whole, bounce)) {
      this.#strike(names[bounceSound], Math.max(1, Math.round(velocity * part)), time + after, all);
    }
  }

  #strike(name, velocity, seconds, bus, factor = 1) {
    const run = this.run;
    const rate = this.context.sampleRate;
    const time = Math.max(0, Math.round(seconds * rate) / rate);
    const count = run.counts.get(name) ?? 0;
    run.counts.set(name, count + 1);
    const { buffer, level: picked } = this.bank.pick(name, velocity, count);
    const level = picked * factor;
    const source = this.context.createBufferSource();
    const gain = this.context.createGain();
    source.buffer = buffer;
    gain.gain.value = level;
    source.connect(gain).connect(bus);
    this.#choke(name, time);
    if (this.rules.chokes[name]) run.ringing.push({ name, time, level, source, gain, stopped: Infinity });
    source.start(time);
    run.sources.add(source);
    source.onended = () => {
      run.sources.delete(source);
      gain.disconnect();
    };
    this.onStrike?.(name, seconds, velocity);
  }

  /** What rings and is stopped by this stroke ends with a short fade. */
  #choke(name, time) {
    const { ringing } = this.run;
    for (const ring of ringing) {
      if (ring.time >= time || ring.stopped <= time || !this.rules.chokes[ring.name].includes(name)) continue;
      ring.stopped = time;
      const curve = Float32Array.from({ length: 33 }, (_, i) => ring.level * Math.cos((i / 32) * (Math.PI / 2)) ** 2);
      ring.gain.gain.cancelScheduledValues(0);
      ring.gain.gain.setValueCurveAtTime(curve, time, this.rules.chokeSeconds);
      ring.source.stop(time + this.rules.chokeSeconds + 0.01);
    }
    this.run.ringing = ringing.filter((ring) => ring.stopped === Infinity && time - ring.time < 8);
  }
}

/** Straight up to three quarters of full scale, bent gently under it above: no delay, no pumping, no clipping. */
function softCeiling(context, output) {
  const size = 8193;
  const knee = 0.75;
  const curve = Float32Array.from({ length: size }, (_, i) => {
    const x = ((i / (size - 1)) * 2 - 1) * 2;
    const over = Math.max(0, Math.abs(x) - knee);
    return Math.sign(x) * (Math.min(Math.abs(x), knee) + (1 - knee) * Math.tanh(over / (1 - knee)));
  });
  const half = context.createGain();
  half.gain.value = 0.5;
  const shaper = context.createWaveShaper();
  shaper.curve = curve;
  half.connect(shaper).connect(output);
  return half;
}
