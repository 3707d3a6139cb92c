// The sounds of a page: one-shots cut out of one recording at their attacks.

/** @typedef {import("./types.d.ts").PackedSounds} PackedSounds */
/** @typedef {{velocity: number, shots: AudioBuffer[]}} Layer */

/** A bank of one-shots, cut from one recording. */
export class Bank {
  /**
   * @param {BaseAudioContext} context any; it only makes the buffers
   * @param {AudioBuffer} recording
   * @param {PackedSounds} packed where each sound is
   */
  constructor(context, recording, packed) {
    const origin = findPulse(recording, packed);
    const scale = recording.sampleRate / packed.rate;
    /** @type {Map<string, {power: number, layers: Layer[]}>} */
    this.sounds = new Map();
    for (const [name, { power, layers }] of Object.entries(packed.sounds)) {
      const cut = layers.map(([velocity, shots]) => ({
        velocity,
        shots: shots.map(([from, length]) => cutShot(context, recording, origin + from * scale, length * scale)),
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
    const distance = (/** @type {Layer} */ layer) => Math.abs(Math.log(layer.velocity / velocity));
    const layer = sound.layers.reduce((best, next) => (distance(next) < distance(best) ? next : best));
    const level = layer.velocity === velocity ? 1 : (velocity / layer.velocity) ** sound.power;
    return { buffer: layer.shots[count % layer.shots.length], level };
  }
}

/**
 * Decode a page's recording for a context.
 * @param {BaseAudioContext} context
 * @param {ArrayBuffer} bytes
 * @param {PackedSounds} packed
 */
export async function openBank(context, bytes, packed) {
  return new Bank(context, await context.decodeAudioData(bytes.slice(0)), packed);
}

/**
 * Return where the top of the pulse is, to a part of a sample: decoders put different silence before it.
 * @param {Pick<AudioBuffer, "getChannelData" | "sampleRate">} recording
 * @param {Pick<PackedSounds, "pulse" | "rate">} packed
 */
export function findPulse(recording, packed) {
  const data = recording.getChannelData(0);
  const end = Math.min(data.length - 1, Math.round((2.2 * packed.pulse * recording.sampleRate) / packed.rate));
  let top = 1;
  for (let i = 1; i < end; i++) if (data[i] > data[top]) top = i;
  const [before, here, after] = [data[top - 1], data[top], data[top + 1]];
  const bend = before - 2 * here + after;
  return top + (bend ? (before - after) / (2 * bend) : 0);
}

/**
 * Cut one shot out of a recording.
 * @param {BaseAudioContext} context
 * @param {AudioBuffer} recording
 * @param {number} from in samples
 * @param {number} length in samples
 */
function cutShot(context, recording, from, length) {
  const start = Math.max(0, Math.round(from));
  const size = Math.max(1, Math.min(Math.round(length), recording.length - start));
  const shot = context.createBuffer(2, size, recording.sampleRate);
  for (let side = 0; side < 2; side++) {
    const data = recording.getChannelData(Math.min(side, recording.numberOfChannels - 1));
    shot.copyToChannel(data.subarray(start, start + size), side);
  }
  return shot;
}
