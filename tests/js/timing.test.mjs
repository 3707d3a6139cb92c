// Seconds from places: whole notes, grace notes, bounces.

import assert from "node:assert/strict";
import { test } from "node:test";
import { graceSeconds, listBounces, wholeSeconds } from "../../src/fillwright/pack/practice/timing.mjs";

const rules = { spacings: { 1: [1], 2: [2, 1] }, flamMs: 25 };
const buzz = { first: 0.02, last: 0.01, shrinks: 0.8, starts: 0.5, ends: 0.1, longest: 0.5 };

test("a whole note has four beats of 4/4 and two and two thirds of 6/8", () => {
  assert.equal(wholeSeconds({ unit: 0.25 }, 60), 4);
  assert.ok(Math.abs(wholeSeconds({ unit: 0.375 }, 60) - 8 / 3) < 1e-12);
});

test("grace notes are as wide as the flam where the hand has time", () => {
  assert.deepEqual(graceSeconds(1, Infinity, rules), [0.025]);
  assert.deepEqual(graceSeconds(2, 1, rules), [0.05, 0.025]);
});

test("the first grace note comes at most a third of the gap before its stroke", () => {
  const [first, second] = graceSeconds(2, 0.09, rules);
  assert.ok(Math.abs(first - 0.03) < 1e-12);
  assert.ok(Math.abs(second - 0.015) < 1e-12);
});

test("bounces come closer and softer, and end with the stroke", () => {
  const bounces = listBounces(0.3, buzz);
  const gaps = bounces.slice(1).map(([at], i) => at - bounces[i][0]);
  assert.equal(bounces[0][0], 0.02);
  assert.ok(bounces.length > 10);
  assert.ok(gaps.every((gap, i) => i === 0 || gap <= gaps[i - 1] + 1e-12));
  assert.ok(Math.min(...gaps) >= 0.01 - 1e-12);
  assert.ok(bounces.every(([at, share], i) => at < 0.3 && (i === 0 || share < bounces[i - 1][1])));
});

test("a buzz bounces no longer than the longest", () => {
  assert.ok(listBounces(5, buzz).at(-1)[0] < 0.5);
});
