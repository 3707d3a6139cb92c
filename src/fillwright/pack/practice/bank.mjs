// The sounds of a page: one-shots cut out of one recording.

/** The sounds of a page: one recording cut into one-shots at their attacks. */
export class Bank {
  /**
   * @param context any audio context; it only makes the buffers
   * @param recording the decoded recording, an AudioBuffer
   * @param packed what lies where: {rate, pulse, sounds: {name: {power, layers: [[velocity, [[from, length]]]]}}}
   */
  constructor(context, recording, packed) {
    const origin = topOf(recording, packed);
    const scale = recording.sampleRate / packed.rate;
    this.sounds = new Map();
    for (const [name, { power, layers }] of Object.entries(packed.sounds)) {
      const cut = layers.map(([velocity, shots]) => ({
        velocity,
        shots: shots.map(([from, length]) => piece(context, recording, origin + from * scale, length * scale)),
      }));
      this.sounds.set(name, { power, layers: cut });
    }
  }

  /** The one-shot for a stroke: a buffer, and what to multiply it by. */
  pick(name, velocity, count) {
    const { power, layers } = this.sounds.get(name);
    const apart = (layer) => Math.abs(Math.log(layer.velocity / velocity));
    const layer = layers.reduce((best, each) => (apart(each) < apart(best) ? each : best));
    const level = layer.velocity === velocity ? 1 : (velocity / layer.velocity) ** power;
    return { buffer: layer.shots[count % layer.shots.length], level };
  }
}

/** Decode a page's recording for a context. */
export async function openBank(context, bytes, packed) {
  return new Bank(context, await context.decodeAudioData(bytes.slice(0)), packed);
}

/** Where the top of the pulse lies, to a part of a sample; decoders put different silence before it. */
function topOf(recording, packed) {
  const data = recording.getChannelData(0);
  const end = Math.min(data.length - 1, Math.round((2.2 * packed.pulse * recording.sampleRate) / packed.rate));
  let top = 1;
  for (let i = 1; i < end; i++) if (data[i] > data[top]) top = i;
  const [before, here, after] = [data[top - 1], data[top], data[top + 1]];
  const bend = before - 2 * here + after;
  return top + (bend ? (before - after) / (2 * bend) : 0);
}

function piece(context, recording, from, length) {
  const start = Math.max(0, Math.round(from));
  const size = Math.max(1, Math.min(Math.round(length), recording.length - start));
  const made = context.createBuffer(2, size, recording.sampleRate);
  for (let side = 0; side < 2; side++) {
    const data = recording.getChannelData(Math.min(side, recording.numberOfChannels - 1));
    made.copyToChannel(data.subarray(start, start + size), side);
  }
  return made;
}
