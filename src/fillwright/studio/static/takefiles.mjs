// A take as a file: WAVE of a microphone, MIDI of an electronic kit.

const TICKS_PER_MS = 0.96; // 480 ticks a quarter at 120 bpm
const SHORT_TICKS = 30; // length of a note; an electronic kit reports none

/**
 * Write samples as a WAVE file of sixteen bits and one channel.
 * @param {ArrayLike<number>[]} blocks samples from -1 to 1
 * @param {number} rate samples a second
 */
export function encodeWave(blocks, rate) {
  const count = blocks.reduce((sum, block) => sum + block.length, 0);
  const view = new DataView(new ArrayBuffer(44 + 2 * count));
  const text = (/** @type {number} */ at, /** @type {string} */ letters) =>
    [...letters].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
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
    for (const sample of Array.from(block)) {
      view.setInt16(at, Math.round(Math.max(-1, Math.min(1, sample)) * 32767), true);
      at += 2;
    }
  }
  return view.buffer;
}

/**
 * Write a Standard MIDI File of format 0 with the notes on channel 10.
 * @param {[number, number, number][]} notes milliseconds, MIDI note, velocity
 */
export function encodeMidi(notes) {
  const track = [0, 0xff, 0x51, 3, 0x07, 0xa1, 0x20];
  const events = notes.flatMap(([ms, note, velocity]) => {
    const tick = Math.max(0, Math.round(ms * TICKS_PER_MS));
    return [[tick, 0x99, note, velocity], [tick + SHORT_TICKS, 0x89, note, 0]];
  });
  events.sort((one, other) => one[0] - other[0]);
  let last = 0;
  for (const [tick, ...bytes] of events) {
    track.push(...variableLength(tick - last), ...bytes);
    last = tick;
  }
  track.push(0, 0xff, 0x2f, 0);
  const four = (/** @type {number} */ n) => [n >>> 24, (n >>> 16) & 255, (n >>> 8) & 255, n & 255];
  const head = [0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0x01, 0xe0];
  return new Uint8Array([...head, 0x4d, 0x54, 0x72, 0x6b, ...four(track.length), ...track]);
}

/** Write a number as a variable-length quantity. @param {number} ticks */
function variableLength(ticks) {
  const bytes = [ticks & 127];
  for (let rest = ticks >> 7; rest; rest >>= 7) bytes.unshift((rest & 127) | 128);
  return bytes;
}
