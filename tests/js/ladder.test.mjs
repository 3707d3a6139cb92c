// The tempo of each fill and the tempos passed on it.

import assert from "node:assert/strict";
import { test } from "node:test";
import { fitTempo, markTempo, passedTempos, startTempo } from "../../src/fillwright/pack/practice/tempos.mjs";

const fill = { slug: "01-flam-last-beat", ladder: [60, 75, 90] };
const empty = { tempos: {}, reached: {} };

test("a fill starts at the slowest tempo of its ladder", () => {
  assert.equal(startTempo(empty, fill), 60);
});

test("a fill starts at the tempo it was left at", () => {
  assert.equal(startTempo({ ...empty, tempos: { [fill.slug]: 82 } }, fill), 82);
});

for (const kept of ["fast", 0, 19, null, NaN]) {
  test(`a kept tempo of ${kept} is left aside`, () => {
    assert.equal(startTempo({ ...empty, tempos: { [fill.slug]: kept } }, fill), 60);
  });
}

test("tempos are whole and between 20 and 400", () => {
  assert.deepEqual([3, 61.4, 61.5, 999].map(fitTempo), [20, 61, 62, 400]);
});

test("passed tempos are kept in order, each once, beside those of other fills", () => {
  let state = { tempos: {}, reached: { other: [100] } };
  for (const tempo of [90, 60, 90]) state = { ...state, reached: markTempo(state, fill, tempo, true) };
  assert.deepEqual(state.reached, { other: [100], [fill.slug]: [60, 90] });
  assert.deepEqual(markTempo(state, fill, 60, false)[fill.slug], [90]);
});

test("passed tempos that are no list are left aside", () => {
  assert.deepEqual(passedTempos({ tempos: {}, reached: { [fill.slug]: 60 } }, fill), []);
});
