// The order of play.

import assert from "node:assert/strict";
import { test } from "node:test";
import { completeFill } from "../../src/fillwright/pack/practice/fill.mjs";
import { playedItems } from "../../src/fillwright/pack/practice/sequence.mjs";

const row = (at, sound = 0) => [at, 0.25, 0, sound, 100];
const fill = completeFill({
  bar: 1, unit: 0.25, beats: [0, 0.25, 0.5, 0.75], counted: [0, 0.25, 0.5, 0.75], body: 2, landing: 3,
  strokes: [row(0), row(0.5), row(1.75), row(2, 1)], first: [row(0, 1)], span: [1.5, 2],
});
const play = (from, countIn, repetitions) => [...playedItems(fill, from, countIn, (done) => done + 1 < repetitions)];
const strokes = (items) => items.filter((item) => item.row).map((item) => [item.at, item.row[3]]);
const clicks = (items) => items.filter((item) => item.click).map((item) => item.at);

test("one repetition: count-in, phrase, landing", () => {
  const items = play(0, 1, 1);
  assert.deepEqual(items.filter((item) => item.counted).map((item) => item.at), [-1, -0.75, -0.5, -0.25]);
  assert.deepEqual(strokes(items), [[0, 0], [0.5, 0], [1.75, 0], [2, 1]]);
  assert.deepEqual(clicks(items).slice(4), [0, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2]);
});

test("later repetitions have the landing on their first beat, and the last one lands after it", () => {
  const items = play(0, 0, 3);
  assert.deepEqual(strokes(items).map(([at]) => at), [0, 0.5, 1.75, 2, 2.5, 3.75, 4, 4.5, 5.75, 6]);
  assert.deepEqual(strokes(items).filter(([, sound]) => sound === 1).map(([at]) => at), [2, 4, 6]);
});

test("places never go back", () => {
  const places = play(1, 2, 4).map((item) => item.at);
  assert.deepEqual(places, [...places].sort((a, b) => a - b));
});

test("from the second bar on, what comes before is left out", () => {
  const items = play(1, 1, 1);
  assert.deepEqual(strokes(items), [[1.75, 0], [2, 1]]);
  assert.equal(items[0].at, 0);
});

test("first beats are accented, and the count-in is soft between beats", () => {
  const halves = { ...fill, beats: [0, 0.5], counted: [0, 0.25, 0.5, 0.75] };
  const items = [...playedItems(halves, 0, 1, () => false)].filter((item) => item.counted);
  assert.deepEqual(items.map((item) => item.click), ["accented click", "click", "click", "click"]);
  assert.deepEqual(items.map((item) => item.level), [1, 0.4, 1, 0.4]);
});
