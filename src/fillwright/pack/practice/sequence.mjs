// The order of play: clicks and strokes of a phrase by their places, repetition after repetition.

export const SAME = 1e-9; // places nearer than this, in whole notes, are one place
const BETWEEN_LEVEL = 0.4; // loudness of a count-in click between beats, beside 1 on them; ours, not measured

/** @typedef {import("./types.d.ts").PlayedFill} PlayedFill */
/** @typedef {import("./types.d.ts").Item} Item */

/**
 * Yield what is played in order of place: the count-in, then every repetition, then the landing.
 * @param {PlayedFill} fill
 * @param {number} from place where play starts
 * @param {number} countInBars
 * @param {(repetition: number) => boolean} goesOn asked at the end of each repetition, from 0
 * @returns {Generator<Item, void>}
 */
export function* playedItems(fill, from, countInBars, goesOn) {
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

/**
 * Return the clicks and strokes of one repetition.
 * @param {PlayedFill} fill
 * @param {import("./types.d.ts").StrokeRow[]} rows
 * @param {number} start
 * @returns {Item[]}
 */
function repetitionItems(fill, rows, start) {
  const bars = Math.round(fill.body / fill.bar);
  const items = [];
  for (let bar = 0; bar < bars; bar++) items.push(...clicksOf(fill, fill.beats, start + bar * fill.bar));
  for (const row of rows) items.push({ at: start + row[0], row });
  return items.sort((a, b) => a.at - b.at);
}

/**
 * Return the clicks of one bar.
 * @param {PlayedFill} fill
 * @param {number[]} places in the bar
 * @param {number} start of the bar
 * @param {{counted?: boolean}} also what else each click carries
 * @returns {Item[]}
 */
function clicksOf(fill, places, start, also = {}) {
  return places.map((at) => ({
    at: start + at,
    click: at ? "click" : "accented click",
    level: fill.beats.includes(at) ? 1 : BETWEEN_LEVEL,
    ...also,
  }));
}
