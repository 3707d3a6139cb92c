// The practice page's modules in one file. Don't edit it: change the modules, then run `npm run bundle`.
// Modules: sha256 7101aa21af40c8eb4bd7a9c37825815733d1be81d62914d9bba09aa95a2dc230
var __typeError = (msg) => {
  throw TypeError(msg);
};
var __accessCheck = (obj, member, msg) => member.has(obj) || __typeError("Cannot " + msg);
var __privateAdd = (obj, member, value) => member.has(obj) ? __typeError("Cannot add the same private member more than once") : member instanceof WeakSet ? member.add(obj) : member.set(obj, value);
var __privateMethod = (obj, member, method) => (__accessCheck(obj, member, "access private method"), method);

// bank.mjs
var Bank = class {
  /**
   * @param {BaseAudioContext} context any; it only makes the buffers
   * @param {AudioBuffer} recording
   * @param {PackedSounds} packed where each sound is
   */
  constructor(context, recording2, packed) {
    const origin = findPulse(recording2, packed);
    const scale = recording2.sampleRate / packed.rate;
    this.sounds = /* @__PURE__ */ new Map();
    for (const [name, { power, layers }] of Object.entries(packed.sounds)) {
      const cut = layers.map(([velocity, shots]) => ({
        velocity,
        shots: shots.map(([from, length]) => cutShot(context, recording2, origin + from * scale, length * scale))
      }));
      this.sounds.set(name, { power, layers: cut });
    }
  }
  /**
   * Return the one-shot for a stroke: a buffer, and what to multiply it by.
   * @param {string} name
   * @param {number} velocity
   * @param {number} count strokes of this sound so far: variations take turns
   */
  pick(name, velocity, count) {
    const sound = this.sounds.get(name);
    if (!sound) throw new Error(`There is no sound "${name}" on this page.`);
    const distance = (layer2) => Math.abs(Math.log(layer2.velocity / velocity));
    const layer = sound.layers.reduce((best, next) => distance(next) < distance(best) ? next : best);
    const level = layer.velocity === velocity ? 1 : (velocity / layer.velocity) ** sound.power;
    return { buffer: layer.shots[count % layer.shots.length], level };
  }
};
async function openBank(context, bytes, packed) {
  return new Bank(context, await context.decodeAudioData(bytes.slice(0)), packed);
}
function findPulse(recording2, packed) {
  const data2 = recording2.getChannelData(0);
  const end = Math.min(data2.length - 1, Math.round(2.2 * packed.pulse * recording2.sampleRate / packed.rate));
  let top = 1;
  for (let i = 1; i < end; i++) if (data2[i] > data2[top]) top = i;
  const [before, here, after] = [data2[top - 1], data2[top], data2[top + 1]];
  const bend = before - 2 * here + after;
  return top + (bend ? (before - after) / (2 * bend) : 0);
}
function cutShot(context, recording2, from, length) {
  const start = Math.max(0, Math.round(from));
  const size = Math.max(1, Math.min(Math.round(length), recording2.length - start));
  const shot = context.createBuffer(2, size, recording2.sampleRate);
  for (let side = 0; side < 2; side++) {
    const data2 = recording2.getChannelData(Math.min(side, recording2.numberOfChannels - 1));
    shot.copyToChannel(data2.subarray(start, start + size), side);
  }
  return shot;
}

// clock.mjs
var STRETCH_SECONDS = 25 * 60;
var REST_SECONDS = 5 * 60;
var PracticeClock = class {
  /** @param {number} seconds already practised today */
  constructor(seconds = 0) {
    this.today = seconds;
    this.stretch = 0;
    this.running = false;
    this.last = null;
  }
  /** @param {number} now in seconds on a clock that never goes back */
  start(now2) {
    if (this.last !== null && !this.running && now2 - this.last >= REST_SECONDS) this.stretch = 0;
    this.running = true;
    this.last = now2;
  }
  /** @param {number} now */
  stop(now2) {
    this.tick(now2);
    this.running = false;
  }
  /** Add the time since the last call. @param {number} now */
  tick(now2) {
    if (!this.running || this.last === null) return;
    const passed = Math.max(0, now2 - this.last);
    this.today += passed;
    this.stretch += passed;
    this.last = now2;
  }
  get restDue() {
    return this.stretch >= STRETCH_SECONDS;
  }
};
function formatClock(seconds) {
  const whole = Math.floor(seconds);
  const two = (n) => String(n).padStart(2, "0");
  const [hours, minutes] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60];
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}

// elements.mjs
function byId(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`The page has no element "${id}".`);
  return element;
}
function inputById(id) {
  return (
    /** @type {HTMLInputElement} */
    byId(id)
  );
}
function say(words) {
  byId("state").textContent = words;
}

// clock_panel.mjs
var KEEP_SECONDS = 10;
var now = () => performance.now() / 1e3;
var ClockPanel = class {
  /**
   * @param {number} seconds practised today
   * @param {(seconds: number) => void} keep called with today's time now and then, and at the end
   */
  constructor(seconds, keep) {
    this.clock = new PracticeClock(seconds);
    setInterval(() => {
      if (!this.clock.running) return;
      this.show();
      if (Math.floor(this.clock.today) % KEEP_SECONDS === 0) keep(this.clock.today);
    }, 1e3);
    addEventListener("pagehide", () => {
      this.clock.tick(now());
      keep(this.clock.today);
    });
    this.show();
  }
  start() {
    if (!this.clock.running) this.toggle();
  }
  toggle() {
    if (this.clock.running) this.clock.stop(now());
    else this.clock.start(now());
    byId("clock-word").textContent = this.clock.running ? "Stop the clock" : "Start the clock";
    this.show();
  }
  show() {
    this.clock.tick(now());
    byId("stretch").textContent = formatClock(this.clock.stretch);
    byId("today").textContent = formatClock(this.clock.today);
    const words = this.clock.restDue ? "25 minutes. Stop the clock and rest for five minutes." : "";
    if (byId("rest").textContent === words) return;
    byId("rest").textContent = words;
    if (words) say("25 minutes: time to rest.");
  }
};

// cursor.mjs
var SVG = "http://www.w3.org/2000/svg";
function findPosition(lines, place) {
  let line = lines[0];
  for (const candidate of lines) if (candidate.points[0] <= place) line = candidate;
  const points = line.points;
  let i = 0;
  while (i + 4 < points.length && points[i + 2] <= place) i += 2;
  const [t0, x0, t1, x1] = points.slice(i, i + 4);
  const part = Math.min(1, Math.max(0, (place - t0) / (t1 - t0)));
  return { line, x: x0 + part * (x1 - x0) };
}
function findBeat(fill, place) {
  const bar = Math.floor(place / fill.bar + 1e-9) * fill.bar;
  const beats = fill.beats.filter((beat) => bar + beat <= place + 1e-9);
  return bar + beats[beats.length - 1];
}
var Cursor = class {
  /**
   * @param {Element} svg
   * @param {MusicLine[]} lines
   */
  constructor(svg, lines) {
    this.lines = lines;
    this.line = null;
    this.group = document.createElementNS(SVG, "g");
    this.group.setAttribute("class", "cursor");
    this.stick = document.createElementNS(SVG, "line");
    this.tip = document.createElementNS(SVG, "circle");
    this.tip.setAttribute("r", "15");
    this.group.append(this.stick, this.tip);
    svg.append(this.group);
    this.hide();
  }
  /** @param {number} place */
  show(place) {
    const { line, x } = findPosition(this.lines, place);
    if (line !== this.line) {
      this.line = line;
      this.stick.setAttribute("y1", String(line.top));
      this.stick.setAttribute("y2", String(line.bottom));
      this.tip.setAttribute("cy", String(line.top));
    }
    this.group.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
    this.group.removeAttribute("visibility");
  }
  hide() {
    this.group.setAttribute("visibility", "hidden");
  }
};

// fill.mjs
function completeFill(fill) {
  const later = fill.strokes.slice(0, fill.landing).filter((row) => row[0] > 0);
  return { ...fill, again: [...fill.first, ...later] };
}

// keep.mjs
var Memory = class {
  /**
   * Read what is kept; a value of another type than the default's is left aside.
   * @param {string} key
   * @param {T} defaults
   */
  constructor(key, defaults) {
    this.key = key;
    this.defaults = defaults;
    this.state = { ...defaults, ...this.read() };
  }
  /** Return what is kept now, by this tab or another one. @returns {Partial<T>} */
  read() {
    const readable = {};
    try {
      const kept = JSON.parse(globalThis.localStorage.getItem(this.key) ?? "null");
      for (
        const name of
        /** @type {(keyof T)[]} */
        Object.keys(this.defaults)
      ) {
        if (kept && typeof kept[name] === typeof this.defaults[name] && kept[name] !== null) readable[name] = kept[name];
      }
    } catch {
    }
    return readable;
  }
  /** Change something and keep it. @param {Partial<T>} changes */
  set(changes) {
    this.update(() => changes);
  }
  /**
   * Change something that other tabs change too, and keep it. What they kept meanwhile stays.
   * @param {(kept: T) => Partial<T>} change returns the changes to what is kept now
   */
  update(change2) {
    const kept = { ...this.state, ...this.read() };
    const changes = change2(kept);
    Object.assign(this.state, changes);
    try {
      globalThis.localStorage.setItem(this.key, JSON.stringify({ ...kept, ...changes }));
    } catch {
    }
  }
  /**
   * Take over some values whenever another tab changes them.
   * @param {(keyof T)[]} names
   * @param {() => void} show called after that
   */
  follow(names, show2) {
    globalThis.addEventListener("storage", (event) => {
      if (event.key !== this.key) return;
      const kept = this.read();
      for (const name of names) if (kept[name] !== void 0) this.state[name] = /** @type {T[keyof T]} */
      kept[name];
      show2();
    });
  }
};

// ladder.mjs
var _Ladder_instances, item_fn;
var Ladder = class {
  /**
   * @param {HTMLElement} list
   * @param {{set: (tempo: number) => void, mark: (tempo: number, passed: boolean) => void}} actions
   */
  constructor(list, actions2) {
    __privateAdd(this, _Ladder_instances);
    this.list = list;
    this.actions = actions2;
    this.tempos = /* @__PURE__ */ new Map();
  }
  /** Show the tempos of a fill. @param {number[]} tempos @param {number[]} passed */
  show(tempos, passed) {
    this.tempos.clear();
    this.list.replaceChildren(...tempos.map((tempo2) => __privateMethod(this, _Ladder_instances, item_fn).call(this, tempo2, passed.includes(tempo2))));
  }
  /** Mark the tempo that is set. @param {number} tempo */
  press(tempo2) {
    for (const [own, { button }] of this.tempos) button.setAttribute("aria-pressed", String(own === tempo2));
  }
  /** @param {number} tempo @param {boolean} passed */
  check(tempo2, passed) {
    const row = this.tempos.get(tempo2);
    if (row) row.box.checked = passed;
  }
};
_Ladder_instances = new WeakSet();
/** @param {number} tempo @param {boolean} passed */
item_fn = function(tempo2, passed) {
  const [item, button] = [document.createElement("li"), document.createElement("button")];
  const [label, box] = [document.createElement("label"), document.createElement("input")];
  Object.assign(button, { type: "button", textContent: String(tempo2) });
  button.setAttribute("aria-label", `${tempo2} bpm`);
  button.addEventListener("click", () => this.actions.set(tempo2));
  Object.assign(box, { type: "checkbox", checked: passed });
  box.setAttribute("aria-label", `${tempo2} bpm passed`);
  box.addEventListener("change", () => this.actions.mark(tempo2, box.checked));
  label.className = "tick";
  label.append(box, "passed");
  item.append(button, label);
  this.tempos.set(tempo2, { button, box });
  return item;
};

// output.mjs
var KNEE = 0.75;
var CURVE_SIZE = 8193;
function heardTime(context) {
  const stamp = context.getOutputTimestamp?.();
  if (stamp?.contextTime && stamp.performanceTime && stamp.contextTime > 0 && stamp.performanceTime > 0) {
    const heard = stamp.contextTime + (performance.now() - stamp.performanceTime) / 1e3;
    const behind = context.currentTime - heard;
    if (behind > -0.05 && behind < 1) return heard;
  }
  return context.currentTime - (context.outputLatency || context.baseLatency || 0);
}
function connectSoftLimit(context, output) {
  const curve = Float32Array.from({ length: CURVE_SIZE }, (_, i) => {
    const x = (i / (CURVE_SIZE - 1) * 2 - 1) * 2;
    const over = Math.max(0, Math.abs(x) - KNEE);
    return Math.sign(x) * (Math.min(Math.abs(x), KNEE) + (1 - KNEE) * Math.tanh(over / (1 - KNEE)));
  });
  const half = connectGain(context, 0.5);
  const shaper = context.createWaveShaper();
  shaper.curve = curve;
  half.connect(shaper).connect(output);
  return half;
}
function connectGain(context, level, output) {
  const gain = context.createGain();
  gain.gain.value = level;
  if (output) gain.connect(output);
  return gain;
}

// drawings.mjs
function drawSvg({ width, height, body }) {
  return `<svg viewBox="0 0 ${width} ${height}" aria-hidden="true">${body}</svg>`;
}
function drawForPaper(fill) {
  const words = document.createElement("p");
  words.textContent = `${fill.figure}: ${fill.caption}`;
  return `<section class="fill-on-paper"><p class="number">${fill.number}</p><div>${words.outerHTML}${drawSvg(fill.wide)}<p>Tempos: ${fill.ladder.join(", ")} bpm</p></div></section>`;
}

// paper.mjs
function printAll(fills2) {
  byId("all").innerHTML = fills2.map(drawForPaper).join("");
  byId("all").hidden = false;
  document.body.classList.add("printing-all");
  print();
}
addEventListener("afterprint", () => {
  document.body.classList.remove("printing-all");
  byId("all").hidden = true;
  byId("all").replaceChildren();
});

// sequence.mjs
var SAME = 1e-9;
var BETWEEN_LEVEL = 0.4;
function* playedItems(fill, from, countInBars, goesOn) {
  for (let bar = -countInBars; bar < 0; bar++) {
    yield* clicksOf(fill, fill.counted, from + bar * fill.bar, { counted: true });
  }
  for (let repetition = 0; ; repetition++) {
    const start = repetition * fill.body;
    const items = repetitionItems(fill, repetition ? fill.again : fill.strokes.slice(0, fill.landing), start);
    yield* repetition ? items : items.filter((item) => item.at >= from - SAME);
    yield { at: start + fill.body };
    if (goesOn(repetition)) continue;
    const landing = fill.strokes.slice(fill.landing);
    if (landing.length) yield { at: start + fill.body, click: "accented click" };
    yield* landing.map((row) => ({ at: start + row[0], row }));
    return;
  }
}
function repetitionItems(fill, rows, start) {
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
    ...also
  }));
}

// timing.mjs
function wholeSeconds(fill, tempo2) {
  return 60 / tempo2 / fill.unit;
}
function graceSeconds(graces, room, rules) {
  const ahead = rules.spacings[graces].map((factor) => factor * rules.flamMs / 1e3);
  const squeeze = Math.min(1, room / 3 / ahead[0]);
  return ahead.map((distance) => distance * squeeze);
}
function listBounces(lengthSeconds, { first, last, shrinks, starts, ends, longest }) {
  const bounces = [];
  const end = Math.min(lengthSeconds, longest);
  for (let gap = first, at = first; at + last / 2 < end; at += gap) {
    bounces.push([at, starts + (ends - starts) * at / end]);
    gap = Math.max(gap * shrinks, last);
  }
  return bounces;
}

// player.mjs
var CLICK_VELOCITY = 112;
var REACH_SECONDS = 0.25;
var LEAD_SECONDS = 0.08;
var TAIL_SECONDS = 2.5;
var FADE_SECONDS = 0.025;
var COUNT_LEVEL = 1.5;
var RING_SECONDS = 8;
var _Player_instances, finish_fn, sound_fn, stroke_fn, strike_fn, choke_fn;
var Player = class {
  /**
   * @param {BaseAudioContext} context live or offline
   * @param {SoundSource} bank
   * @param {PlayedFill} fill
   * @param {Rules} rules how strokes sound
   * @param {AudioNode} output
   */
  constructor(context, bank, fill, rules, output = context.destination) {
    __privateAdd(this, _Player_instances);
    this.context = context;
    this.bank = bank;
    this.fill = fill;
    this.rules = rules;
    this.repetitions = 1;
    this.silent = false;
    this.onStrike = null;
    this.out = connectSoftLimit(context, output);
    this.clickLevel = 1;
    this.tempo = 90;
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
  setTempo(tempo2) {
    const run = this.run;
    this.tempo = tempo2;
    if (!run) return;
    const from = Math.max(run.pumped, run.anchors[run.anchors.length - 1].time);
    const place = placeAt(run, from);
    run.anchors.push({ time: from, place, whole: wholeSeconds(this.fill, tempo2) });
    if (run.ends < Infinity) __privateMethod(this, _Player_instances, finish_fn).call(this, run);
  }
  /** Start from a place in the phrase, after a count-in. `at` is on the context's clock. */
  start({ from = 0, countInBars = 1, at = this.context.currentTime + LEAD_SECONDS } = {}) {
    this.stop();
    const whole = wholeSeconds(this.fill, this.tempo);
    const place = from - countInBars * this.fill.bar;
    const all = connectGain(this.context, 1, this.out);
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
      counts: /* @__PURE__ */ new Map(),
      lastOf: [],
      ringing: [],
      sources: /* @__PURE__ */ new Set(),
      all,
      click: connectGain(this.context, this.clickLevel, all),
      count: connectGain(this.context, COUNT_LEVEL, all)
    };
    this.run = run;
    run.next = run.items.next().value ?? null;
  }
  /** Hand over everything that starts before a moment on the context's clock. @param {number} until */
  pump(until) {
    const run = this.run;
    if (!run) return;
    while (run.next && timeOf(run, run.next.at) <= until + REACH_SECONDS) {
      __privateMethod(this, _Player_instances, sound_fn).call(this, run, run.next, timeOf(run, run.next.at));
      const { value, done } = run.items.next();
      run.next = value ?? null;
      if (done) __privateMethod(this, _Player_instances, finish_fn).call(this, run);
    }
    run.pumped = Math.max(run.pumped, until + REACH_SECONDS);
  }
  /** Stop at once, with a short fade. */
  stop() {
    const run = this.run;
    if (!run) return;
    this.run = null;
    const now2 = this.context.currentTime;
    run.all.gain.setTargetAtTime(0, now2, FADE_SECONDS / 3);
    for (const source of run.sources) source.stop(now2 + 2 * FADE_SECONDS);
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
};
_Player_instances = new WeakSet();
/** @param {Run} run */
finish_fn = function(run) {
  const { body, bar, landing, strokes } = this.fill;
  const count = run.lastRepetition === Infinity ? 1 : run.lastRepetition + 1;
  const end = count * body + (landing < strokes.length ? bar : 0);
  run.ends = Math.min(timeOf(run, end), timeOf(run, count * body) + TAIL_SECONDS);
};
/** @param {Run} run @param {import("./types.d.ts").Item} item @param {number} time */
sound_fn = function(run, { click, level = 1, counted: counted2, row }, time) {
  if (click) __privateMethod(this, _Player_instances, strike_fn).call(this, run, click, CLICK_VELOCITY, time, counted2 ? run.count : run.click, level);
  else if (row) __privateMethod(this, _Player_instances, stroke_fn).call(this, run, row, time);
};
/** @param {Run} run @param {import("./types.d.ts").StrokeRow} row @param {number} time */
stroke_fn = function(run, row, time) {
  const [at, length, limb, sound, velocity, graces = 0, graceSound, graceVelocity, bounceSound = -1] = row;
  const { names, bounce } = this.rules;
  const { lastOf, anchors, all } = run;
  const [start, end] = this.fill.span;
  const audible = !(this.silent && at >= start - SAME && at < end - SAME);
  const other = limb ^ 1;
  if (graces) {
    const last = lastOf[other];
    const ahead = graceSeconds(graces, last === void 0 ? Infinity : time - last, this.rules);
    if (audible) {
      for (const distance of ahead) __privateMethod(this, _Player_instances, strike_fn).call(this, run, names[graceSound], graceVelocity, time - distance, all);
    }
    lastOf[other] = time;
  }
  lastOf[limb] = time;
  if (!audible) return;
  __privateMethod(this, _Player_instances, strike_fn).call(this, run, names[sound], velocity, time, all);
  if (bounceSound < 0) return;
  for (const [after, share] of listBounces(length * anchors[anchors.length - 1].whole, bounce)) {
    __privateMethod(this, _Player_instances, strike_fn).call(this, run, names[bounceSound], Math.max(1, Math.round(velocity * share)), time + after, all);
  }
};
/**
 * @param {Run} run @param {string} name @param {number} velocity @param {number} seconds
 * @param {GainNode} bus @param {number} factor
 */
strike_fn = function(run, name, velocity, seconds, bus, factor = 1) {
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
  __privateMethod(this, _Player_instances, choke_fn).call(this, run, name, time);
  if (this.rules.chokes[name]) run.ringing.push({ name, time, level, source, gain, stopped: Infinity });
  source.start(time);
  run.sources.add(source);
  source.onended = () => {
    run.sources.delete(source);
    gain.disconnect();
  };
  this.onStrike?.(name, seconds, velocity);
};
/** End what rings and is stopped by this stroke, with a short fade. @param {Run} run @param {string} name @param {number} time */
choke_fn = function(run, name, time) {
  for (const ring of run.ringing) {
    if (ring.time >= time || ring.stopped <= time || !this.rules.chokes[ring.name].includes(name)) continue;
    ring.stopped = time;
    const curve = Float32Array.from({ length: 33 }, (_, i) => ring.level * Math.cos(i / 32 * (Math.PI / 2)) ** 2);
    ring.gain.gain.cancelScheduledValues(0);
    ring.gain.gain.setValueCurveAtTime(curve, time, this.rules.chokeSeconds);
    ring.source.stop(time + this.rules.chokeSeconds + 0.01);
  }
  run.ringing = run.ringing.filter((ring) => ring.stopped === Infinity && time - ring.time < RING_SECONDS);
};
function timeOf(run, place) {
  const { time, place: from, whole } = run.anchors[run.anchors.length - 1];
  return time + (place - from) * whole;
}
function placeAt(run, time) {
  const anchors = run.anchors;
  let i = anchors.length - 1;
  while (i > 0 && anchors[i].time > time) i--;
  return anchors[i].place + (time - anchors[i].time) / anchors[i].whole;
}

// playback.mjs
var AHEAD_SECONDS = 0.3;
var AHEAD_UNSEEN_SECONDS = 1.6;
var WAKE_MS = 40;
var STILL = matchMedia("(prefers-reduced-motion: reduce)");
var _Playback_instances, openSound_fn, wake_fn, keepAwake_fn, follow_fn;
var Playback = class {
  /** @param {Parts} parts */
  constructor(parts) {
    __privateAdd(this, _Playback_instances);
    this.parts = parts;
    this.player = null;
    this.context = null;
    this.bank = null;
    this.lock = null;
    this.from = 0;
    this.opening = false;
    this.timer = 0;
    this.frame = 0;
    document.addEventListener("visibilitychange", () => __privateMethod(this, _Playback_instances, wake_fn).call(this));
  }
  /** Start from where it was paused. */
  async play() {
    if (this.opening) return;
    this.opening = true;
    say(this.bank ? "" : "Loading the sounds.");
    try {
      const { context, bank } = await __privateMethod(this, _Playback_instances, openSound_fn).call(this);
      this.player = new Player(context, bank, this.parts.sheet.fill, this.parts.data.rules);
    } catch (error) {
      say("This browser can't play this page. Use the play-along files of the lesson instead.");
      console.error(error);
      return;
    } finally {
      this.opening = false;
    }
    this.applySettings();
    this.player.start({ from: this.from, countInBars: this.parts.settings().countInBars });
    __privateMethod(this, _Playback_instances, wake_fn).call(this);
    this.timer = setInterval(() => __privateMethod(this, _Playback_instances, wake_fn).call(this), WAKE_MS);
    byId("play-word").textContent = "Pause";
    say("");
    this.parts.onStart();
    __privateMethod(this, _Playback_instances, keepAwake_fn).call(this);
    __privateMethod(this, _Playback_instances, follow_fn).call(this);
  }
  /** Give the player the settings of now. */
  applySettings() {
    if (!this.player) return;
    const { tempo: tempo2, loop, silent, click } = this.parts.settings();
    if (this.player.tempo !== tempo2) this.player.setTempo(tempo2);
    this.player.repetitions = loop ? Infinity : 1;
    this.player.silent = silent;
    this.player.setClick(click);
  }
  /** Stop and keep the place: Play goes on from the start of that bar. */
  pause() {
    if (!this.player) return;
    const { fill } = this.parts.sheet;
    const here = this.player.where(heardTime(this.player.context));
    if (here && !here.counting && here.place < fill.body) this.from = Math.floor(here.place / fill.bar + 1e-9) * fill.bar;
    this.stop();
    say(this.from ? `Paused in bar ${Math.round(this.from / fill.bar) + 1}. Play continues from there.` : "");
  }
  playOrPause() {
    if (this.player) this.pause();
    else this.play();
  }
  /** Stop, and show where Play goes on. */
  stop() {
    this.player?.stop();
    this.player = null;
    clearInterval(this.timer);
    cancelAnimationFrame(this.frame);
    this.lock?.release();
    this.lock = null;
    byId("play-word").textContent = "Play";
    if (this.from) this.parts.sheet.cursor?.show(this.from);
    else this.parts.sheet.cursor?.hide();
  }
  /** Stop and go back to the first bar. */
  rewind() {
    this.from = 0;
    if (this.player) this.stop();
    this.parts.sheet.cursor?.hide();
  }
  /** Play from the first bar if it was playing, else only go back there. */
  restart() {
    const again = this.player !== null;
    this.rewind();
    say("");
    if (again) this.play();
  }
};
_Playback_instances = new WeakSet();
openSound_fn = async function() {
  if (!this.context) {
    const session = (
      /** @type {{audioSession?: {type: string}}} */
      navigator.audioSession
    );
    if (session) session.type = "playback";
    this.context = new AudioContext({ latencyHint: "interactive" });
  }
  const awake = this.context.resume();
  this.bank ?? (this.bank = await openBank(this.context, this.parts.recording(), this.parts.data.packed));
  await awake;
  return { context: this.context, bank: this.bank };
};
wake_fn = function() {
  const ahead = document.hidden ? AHEAD_UNSEEN_SECONDS : AHEAD_SECONDS;
  this.player?.pump(this.player.context.currentTime + ahead);
};
keepAwake_fn = async function() {
  try {
    this.lock = await navigator.wakeLock?.request("screen") ?? null;
    if (!this.player) this.lock?.release();
  } catch {
  }
};
/** Move the cursor with the music, once a frame. */
follow_fn = function() {
  const { player } = this;
  if (!player) return;
  const time = heardTime(player.context);
  if (player.overAt(time)) {
    this.rewind();
    return;
  }
  const here = player.where(time);
  const { cursor, fill } = this.parts.sheet;
  if (here) cursor?.show(here.counting ? this.from : STILL.matches ? findBeat(fill, here.place) : here.place);
  this.frame = requestAnimationFrame(() => __privateMethod(this, _Playback_instances, follow_fn).call(this));
};

// sheet.mjs
var NARROW = matchMedia("(max-width: 559px)");
var DOTTED = 0.375;
var Sheet = class {
  /** @param {PageFill[]} fills @param {PageFill} fill the one shown first */
  constructor(fills2, fill) {
    this.fills = fills2;
    this.fill = fill;
    this.cursor = null;
    NARROW.addEventListener("change", () => this.draw());
    addEventListener("beforeprint", () => {
      if (NARROW.matches) byId("music").innerHTML = drawSvg(this.fill.wide);
    });
    addEventListener("afterprint", () => this.draw());
  }
  get index() {
    return this.fills.indexOf(this.fill);
  }
  /** Show another fill. @param {PageFill} fill */
  show(fill) {
    this.fill = fill;
    byId("number").textContent = String(fill.number);
    byId("caption").textContent = fill.caption;
    byId("figure").textContent = `${fill.figure}, ${fill.rhythm.charAt(0).toLowerCase()}${fill.rhythm.slice(1)}`;
    byId("sticking").textContent = fill.sticking;
    byId("groove").textContent = fill.groove;
    byId("grade").textContent = fill.grade;
    byId("ceiling").textContent = fill.ceiling;
    byId("hint").textContent = fill.hint || "–";
    byId("plan").innerHTML = fill.plan;
    byId("back").toggleAttribute("disabled", this.index === 0);
    byId("next").toggleAttribute("disabled", this.index === this.fills.length - 1);
    this.draw();
  }
  /** Draw the music for the width of the screen. */
  draw() {
    const drawing = NARROW.matches ? this.fill.narrow : this.fill.wide;
    byId("music").innerHTML = drawSvg(drawing);
    this.cursor = new Cursor(
      /** @type {Element} */
      byId("music").firstElementChild,
      drawing.lines
    );
  }
  /** Show a tempo beside the note that it counts. @param {number} tempo */
  showTempo(tempo2) {
    byId("tempo").textContent = `= ${tempo2}`;
    byId("dot").setAttribute("visibility", this.fill.unit === DOTTED ? "visible" : "hidden");
  }
};

// shortcuts.mjs
function listenToKeys(actions2) {
  addEventListener("keydown", (event) => {
    const on = (
      /** @type {HTMLInputElement} */
      event.target
    );
    if (event.ctrlKey || event.metaKey || event.altKey || usesKey(on, event.key)) return;
    const action = actions2[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!action) return;
    event.preventDefault();
    if (!event.repeat || event.key.startsWith("Arrow")) action();
  });
}
function usesKey(on, key) {
  if (on.type === "range") return key.startsWith("Arrow");
  return key === " " && (on.type === "checkbox" || on.tagName === "BUTTON" && on.id !== "play");
}
function listenToButtons(actions2) {
  for (const [id, action] of Object.entries(actions2)) byId(id).addEventListener("click", action);
  addEventListener("click", (event) => {
    const pressed = (
      /** @type {HTMLElement} */
      event.target.closest("button:not(.about), input")
    );
    if (event.detail > 0) pressed?.blur();
  });
  addEventListener("pointerup", (event) => {
    const on = (
      /** @type {HTMLInputElement} */
      event.target
    );
    if (on.type === "range") on.blur();
  });
}
function listenToTerms() {
  for (const term of document.querySelectorAll(".term")) {
    for (const name of ["pointerenter", "focusin"]) {
      term.addEventListener(name, () => term.classList.remove("closed"));
    }
  }
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const term of document.querySelectorAll(".term")) term.classList.add("closed");
  });
}

// staircase.mjs
var _Staircase_instances, bringIntoSight_fn;
var Staircase = class {
  /**
   * @param {HTMLElement} nav
   * @param {(index: number) => void} onStair called with the index of a stair that is pressed
   */
  constructor(nav, onStair) {
    __privateAdd(this, _Staircase_instances);
    this.nav = nav;
    this.stairs = [.../** @type {NodeListOf<HTMLElement>} */
    nav.querySelectorAll(".stair")];
    for (const [i, stair] of this.stairs.entries()) stair.addEventListener("click", () => onStair(i));
  }
  /** Mark the fill that is shown. @param {number} index */
  show(index) {
    for (const [i, stair] of this.stairs.entries()) {
      if (i === index) stair.setAttribute("aria-current", "step");
      else stair.removeAttribute("aria-current");
    }
    __privateMethod(this, _Staircase_instances, bringIntoSight_fn).call(this, this.stairs[index]);
  }
  /**
   * Show the tempos passed on a stair.
   * @param {number} index
   * @param {number[]} tempos
   * @param {number[]} passed
   */
  mark(index, tempos, passed) {
    const stair = this.stairs[index];
    [...stair.querySelectorAll("i")].forEach((box, i) => box.classList.toggle("on", passed.includes(tempos[i])));
    const done = tempos.filter((tempo2) => passed.includes(tempo2)).length;
    stair.setAttribute("aria-label", `${stair.dataset.words}. ${done} of ${tempos.length} tempos passed`);
  }
};
_Staircase_instances = new WeakSet();
/** Scroll the staircase, not the page. @param {HTMLElement} stair */
bringIntoSight_fn = function(stair) {
  const boxes = [stair.closest(".flights"), this.nav].filter((box) => box !== null);
  for (const box of boxes) {
    const [outer, inner] = [box.getBoundingClientRect(), stair.getBoundingClientRect()];
    if (inner.left < outer.left || inner.right > outer.right) box.scrollLeft += inner.left - outer.left - 90;
    const scrolls = box.scrollHeight > box.clientHeight;
    if (scrolls && (inner.top < outer.top || inner.bottom > outer.bottom)) {
      box.scrollTop += inner.top - outer.top - 120;
    }
  }
};

// switches.mjs
var CLICKS = [["off", 0], ["soft", 0.5], ["even", 1], ["strong", 2], ["loud", 4]];
var COUNTS = ["none", "1 bar", "2 bars"];
function showSwitches(state2) {
  inputById("loop").checked = state2.loop;
  inputById("silent").checked = state2.silent;
  showLevel("click", state2.click, CLICKS[state2.click][0]);
  showLevel("count", state2.count, COUNTS[state2.count]);
}
function showLevel(id, value, word) {
  inputById(id).value = String(value);
  byId(id).setAttribute("aria-valuetext", word);
  byId(`${id}-word`).textContent = word;
}
function listenToSwitches(change2) {
  for (const name of ["loop", "silent"]) {
    byId(name).addEventListener("change", () => change2({ [name]: inputById(name).checked }));
  }
  for (const name of ["click", "count"]) {
    byId(name).addEventListener("input", () => change2({ [name]: Number(inputById(name).value) }));
  }
}

// tempos.mjs
var SLOWEST = 20;
var FASTEST = 400;
function fitTempo(tempo2) {
  return Math.min(FASTEST, Math.max(SLOWEST, Math.round(tempo2)));
}
function startTempo(state2, fill) {
  const kept = Number(state2.tempos[fill.slug]);
  return kept >= SLOWEST ? kept : fill.ladder[0];
}
function passedTempos(state2, fill) {
  const kept = state2.reached[fill.slug];
  return Array.isArray(kept) ? kept : [];
}
function markTempo(state2, fill, tempo2, passed) {
  const tempos = passedTempos(state2, fill).filter((own) => own !== tempo2);
  if (passed) tempos.push(tempo2);
  return { ...state2.reached, [fill.slug]: tempos.sort((a, b) => a - b) };
}

// page.mjs
var data = JSON.parse(byId("data").textContent ?? "");
var fills = data.fills.map(completeFill);
var day = (/* @__PURE__ */ new Date()).toLocaleDateString("sv");
var memory = new Memory(data.id, {
  at: "",
  tempos: {},
  reached: {},
  loop: true,
  silent: false,
  click: 2,
  count: 1,
  day,
  seconds: 0
});
var state = memory.state;
if (!(state.click in CLICKS)) state.click = 2;
if (!(state.count in COUNTS)) state.count = 1;
var sheet = new Sheet(fills, fills.find((fill) => fill.slug === state.at) ?? fills[0]);
var counted = state.day === day ? state.seconds : 0;
var clock = new ClockPanel(counted, (seconds) => {
  const more = seconds - counted;
  memory.update((kept) => ({ day, seconds: (kept.day === day ? kept.seconds : 0) + more }));
  counted = seconds;
});
var staircase = new Staircase(byId("steps"), (index) => {
  show(fills[index]);
  if (byId("sheet").getBoundingClientRect().top < 0) byId("sheet").scrollIntoView();
});
var ladder = new Ladder(byId("rungs"), { set: setTempo, mark });
var playback = new Playback({
  recording,
  data,
  sheet,
  settings: () => ({
    tempo: tempo(),
    loop: state.loop,
    silent: state.silent,
    click: CLICKS[state.click][1],
    countInBars: state.count
  }),
  onStart: () => clock.start()
});
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
function setTempo(wish) {
  memory.update((kept) => ({ tempos: { ...kept.tempos, [sheet.fill.slug]: fitTempo(wish) } }));
  playback.applySettings();
  showTempo();
}
function mark(own, passed) {
  memory.update((kept) => ({ reached: markTempo(kept, sheet.fill, own, passed) }));
  staircase.mark(sheet.index, sheet.fill.ladder, passedTempos(state, sheet.fill));
}
function showPassed() {
  fills.forEach((fill, index) => staircase.mark(index, fill.ladder, passedTempos(state, fill)));
  ladder.show(sheet.fill.ladder, passedTempos(state, sheet.fill));
  ladder.press(tempo());
}
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
function change(changes) {
  memory.set(changes);
  showSwitches(state);
  playback.applySettings();
}
function recording() {
  const text = atob(byId("recording").textContent ?? "");
  return Uint8Array.from(text, (letter) => letter.charCodeAt(0)).buffer;
}
function walk(by) {
  const next = fills[sheet.index + by];
  if (next) show(next);
}
memory.follow(["reached"], showPassed);
var actions = {
  play: () => playback.playOrPause(),
  top: () => playback.restart(),
  back: () => walk(-1),
  next: () => walk(1),
  slower: () => setTempo(tempo() - 1),
  faster: () => setTempo(tempo() + 1),
  clock: () => clock.toggle(),
  print: () => print(),
  "print-all": () => printAll(fills)
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
  ...Object.fromEntries(Array.from({ length: 9 }, (_, i) => [i + 1, () => setTempo(sheet.fill.ladder[i] ?? tempo())]))
});
for (const [i, fill] of fills.entries()) staircase.mark(i, fill.ladder, passedTempos(state, fill));
showSwitches(state);
show(sheet.fill);
Promise.allSettled([...document.fonts].map((face) => face.load())).then(() => {
  document.documentElement.classList.remove("opening");
});
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
    }
  }
});
