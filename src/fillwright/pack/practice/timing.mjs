// Seconds from places in the music: whole notes, grace notes, the bounces of a buzz.

/**
 * Return the seconds of a whole note at a tempo in the meter's bpm.
 * @param {{unit: number}} fill
 * @param {number} tempo
 */
export function wholeSeconds(fill, tempo) {
  return 60 / tempo / fill.unit;
}

/**
 * Return how far before a stroke each of its grace notes sounds, in seconds; closer where the hand has less time.
 * @param {number} graces how many there are
 * @param {number} room seconds since the last stroke of the hand that plays them
 * @param {{spacings: Record<number, number[]>, flamMs: number}} rules
 */
export function graceSeconds(graces, room, rules) {
  const ahead = rules.spacings[graces].map((factor) => (factor * rules.flamMs) / 1000);
  const squeeze = Math.min(1, room / 3 / ahead[0]);
  return ahead.map((distance) => distance * squeeze);
}

/**
 * List the bounces of a buzz: seconds after its first contact, and velocity as a share of the stroke's.
 * @param {number} lengthSeconds
 * @param {import("./types.d.ts").BounceRules} rules
 * @returns {[number, number][]}
 */
export function listBounces(lengthSeconds, { first, last, shrinks, starts, ends, longest }) {
  /** @type {[number, number][]} */
  const bounces = [];
  const end = Math.min(lengthSeconds, longest);
  for (let gap = first, at = first; at + last / 2 < end; at += gap) {
    bounces.push([at, starts + ((ends - starts) * at) / end]);
    gap = Math.max(gap * shrinks, last);
  }
  return bounces;
}
