// The tempo of each fill and the tempos passed on it, as the page keeps them.

const SLOWEST = 20; // bpm; ours
const FASTEST = 400; // bpm; ours

/** @typedef {{slug: string, ladder: number[]}} Fill */
/** @typedef {{tempos: Record<string, number>, reached: Record<string, number[]>}} Kept */

/** Return the nearest whole tempo that can be played, in bpm. @param {number} tempo */
export function fitTempo(tempo) {
  return Math.min(FASTEST, Math.max(SLOWEST, Math.round(tempo)));
}

/** Return the tempo that a fill was left at, or the slowest of its ladder. @param {Kept} state @param {Fill} fill */
export function startTempo(state, fill) {
  const kept = Number(state.tempos[fill.slug]);
  return kept >= SLOWEST ? kept : fill.ladder[0];
}

/** Return the tempos passed on a fill, slow to fast. @param {Kept} state @param {Fill} fill @returns {number[]} */
export function passedTempos(state, fill) {
  const kept = state.reached[fill.slug];
  return Array.isArray(kept) ? kept : [];
}

/**
 * Return the tempos passed on all fills after one is marked, or unmarked.
 * @param {Kept} state
 * @param {Fill} fill
 * @param {number} tempo
 * @param {boolean} passed
 */
export function markTempo(state, fill, tempo, passed) {
  const tempos = passedTempos(state, fill).filter((own) => own !== tempo);
  if (passed) tempos.push(tempo);
  return { ...state.reached, [fill.slug]: tempos.sort((a, b) => a - b) };
}
