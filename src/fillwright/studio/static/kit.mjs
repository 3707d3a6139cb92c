// The sounds of a page: each loudness of each sound is a recording of its own, fetched when a fill first strikes it.

import { openBank } from "/sound/bank.mjs";

const CLICKS = ["accented click", "click"];
const CLICK_VELOCITY = 112; // MIDI velocity of a click, as in the player

/** @typedef {import("./types.d.ts").KitTable} KitTable */
/** @typedef {Pick<import("/sound/types.d.ts").PlayedFill, "strokes" | "first">} Struck */

const decoder = new OfflineAudioContext(2, 1, 44100);

/** @type {Promise<Kit> | null} */
let opened = null;
const openKit = () => (opened ??= fetchKit());
const fetchKit = async () => new Kit(await check(await fetch("/sound/kit.json")).json());

/** Return the kit with every sound that a fill strikes, so that its first stroke does not wait. @param {Struck} fill */
export async function kitFor(fill) {
  try {
    return await (await openKit()).load(fill);
  } catch {
    opened = null; // other sounds were chosen since the page was opened
    return (await openKit()).load(fill);
  }
}

/** A source of sounds for the player that holds only what was needed so far. */
class Kit {
  /** @param {KitTable} table */
  constructor({ digest, rules, layers }) {
    this.digest = digest;
    this.rules = rules;
    this.layers = layers;
    /** @type {Map<number, Promise<void>>} */
    this.fetched = new Map(); // by number
    /** @type {Map<number, import("/sound/bank.mjs").Bank>} */
    this.banks = new Map(); // by number, with one layer each
  }

  /** Fetch what a fill strikes, and return this kit then. @param {Struck} fill */
  async load(fill) {
    const numbers = new Set();
    for (const [name, velocity] of struckSounds(fill, this.rules)) {
      numbers.add(nearestLayer(this.layers[name], velocity)[1]);
    }
    await Promise.all([...numbers].map((number) => this.#fetch(number)));
    return this;
  }

  /**
   * Return the one-shot for a stroke, of the nearest loudness that is here.
   * @param {string} name
   * @param {number} velocity
   * @param {number} count
   */
  pick(name, velocity, count) {
    const here = this.layers[name].filter(([, number]) => this.banks.has(number));
    const bank = this.banks.get(nearestLayer(here, velocity)[1]);
    if (!bank) throw new Error(`The sound "${name}" is not loaded.`);
    return bank.pick(name, velocity, count);
  }

  /** @param {number} number */
  #fetch(number) {
    let promise = this.fetched.get(number);
    if (!promise) this.fetched.set(number, (promise = this.#open(number)));
    return promise;
  }

  /** @param {number} number */
  async #open(number) {
    const response = check(await fetch(`/sound/kit/${this.digest}/${number}`));
    const bytes = await response.arrayBuffer();
    const start = 4 + new DataView(bytes).getUint32(0);
    const packed = JSON.parse(new TextDecoder().decode(bytes.slice(4, start)));
    this.banks.set(number, await openBank(decoder, bytes.slice(start), packed));
  }
}

/** @param {Response} response */
function check(response) {
  if (!response.ok) throw new Error(`${response.url} answered ${response.status}`);
  return response;
}

/** @param {[number, number][]} layers @param {number} velocity */
function nearestLayer(layers, velocity) {
  const distance = (/** @type {[number, number]} */ layer) => Math.abs(Math.log(layer[0] / velocity));
  return layers.reduce((best, next) => (distance(next) < distance(best) ? next : best));
}

/**
 * Yield every sound and velocity of a fill; of a buzz's bounces the first and the last, which the others lie between.
 * @param {Struck} fill
 * @param {KitTable["rules"]} rules
 * @returns {Generator<[string, number]>}
 */
function* struckSounds(fill, { names, bounce }) {
  for (const name of CLICKS) yield [name, CLICK_VELOCITY];
  for (const row of [...fill.strokes, ...fill.first]) {
    const [, , , sound, velocity, graces = 0, grace, graceVelocity, bounced = -1] = row;
    yield [names[sound], velocity];
    if (graces) yield [names[grace], graceVelocity];
    if (bounced < 0) continue;
    for (const share of [bounce.starts, bounce.ends]) {
      yield [names[bounced], Math.max(1, Math.round(velocity * share))];
    }
  }
}
