// The sounds of a page: each loudness of each sound is a recording of its own, fetched when a fill first strikes it.

import { openBank } from "/sound/bank.mjs";

const CLICKS = ["accented click", "click"];
const CLICK_VELOCITY = 112;

const decoder = new OfflineAudioContext(2, 1, 44100);

let opened = null;
const openKit = () => (opened ??= fetchKit());
const fetchKit = async () => new Kit(await read(await fetch("/sound/kit.json")).json());

/** The kit with every sound that a fill strikes; the first of them does not wait then. */
export async function kitFor(fill) {
  try {
    return await (await openKit()).holding(fill);
  } catch {
    opened = null; // other sounds were chosen since the page was opened
    return (await openKit()).holding(fill);
  }
}

/** Looks like a bank to the player, and holds as much of it as was asked for. */
class Kit {
  constructor({ digest, rules, layers }) {
    Object.assign(this, { digest, rules, layers });
    this.fetched = new Map(); // by number, promises
    this.banks = new Map(); // by number, with one layer each
  }

  /** Itself, once it holds what a fill strikes. */
  async holding(fill) {
    const wanted = new Set();
    for (const [name, velocity] of struck(fill, this.rules)) wanted.add(nearest(this.layers[name], velocity)[1]);
    await Promise.all([...wanted].map((number) => this.#fetch(number)));
    return this;
  }

  /** The one-shot for a stroke, of the nearest loudness that is here. */
  pick(name, velocity, count) {
    const here = this.layers[name].filter(([, number]) => this.banks.has(number));
    return this.banks.get(nearest(here, velocity)[1]).pick(name, velocity, count);
  }

  #fetch(number) {
    if (!this.fetched.has(number)) this.fetched.set(number, this.#opened(number));
    return this.fetched.get(number);
  }

  async #opened(number) {
    const answer = read(await fetch(`/sound/kit/${this.digest}/${number}`));
    const bytes = await answer.arrayBuffer();
    const start = 4 + new DataView(bytes).getUint32(0);
    const packed = JSON.parse(new TextDecoder().decode(bytes.slice(4, start)));
    this.banks.set(number, await openBank(decoder, bytes.slice(start), packed));
  }
}

function read(answer) {
  if (!answer.ok) throw new Error(`${answer.url} says ${answer.status}`);
  return answer;
}

function nearest(layers, velocity) {
  const apart = ([its]) => Math.abs(Math.log(its / velocity));
  return layers.reduce((best, each) => (apart(each) < apart(best) ? each : best));
}

/** Every sound and velocity of a fill; of a buzz's bounces the first and the last, which the others lie between. */
function* struck(fill, { names, bounce }) {
  for (const name of CLICKS) yield [name, CLICK_VELOCITY];
  for (const [, , , sound, velocity, graces = 0, grace, graceVelocity, bounced = -1] of [...fill.strokes, ...fill.first]) {
    yield [names[sound], velocity];
    if (graces) yield [names[grace], graceVelocity];
    if (bounced < 0) continue;
    for (const part of [bounce.starts, bounce.ends]) yield [names[bounced], Math.max(1, Math.round(velocity * part))];
  }
}
