// Where the cursor is for a place of the phrase: on the practice page and in the studio.

import assert from "node:assert/strict";
import { test } from "node:test";
import { findBeat, findPosition } from "../../src/fillwright/pack/practice/cursor.mjs";
import { findPosition as findInStudio, putAt } from "../../src/fillwright/studio/static/cursor.mjs";

const lines = [
  { top: 0, bottom: 100, points: [0, 10, 0.5, 60, 1, 110] },
  { top: 200, bottom: 300, points: [1, 20, 2, 220] },
];

test("between two points the cursor goes evenly", () => {
  assert.equal(findPosition(lines, 0.25).x, 35);
  assert.equal(findPosition(lines, 0.75).x, 85);
});

test("a line begins where the one before ends", () => {
  assert.equal(findPosition(lines, 0.999).line, lines[0]);
  assert.deepEqual(findPosition(lines, 1), { line: lines[1], x: 20 });
});

test("before the first point and after the last the cursor stays at the ends", () => {
  assert.equal(findPosition(lines, -1).x, 10);
  assert.equal(findPosition(lines, 5).x, 220);
});

test("without gliding the cursor rests on the beat", () => {
  const fill = { bar: 0.75, beats: [0, 0.25, 0.5] };
  assert.deepEqual([0, 0.24, 0.25, 0.74, 0.75, 1.1].map((place) => findBeat(fill, place)), [0, 0, 0.25, 0.5, 0.75, 1]);
});

test("in the studio the cursor does not glide from one line to the next", () => {
  const marks = [[0, 0.1, 0, 0.4, 0], [0.5, 0.6, 0, 0.4, 0], [1, 0.1, 0.5, 0.4, 1]];
  assert.equal(findInStudio(marks, 0.25).x, 0.35);
  assert.deepEqual(findInStudio(marks, 0.75), { x: 0.6, top: 0, height: 0.4 });
  assert.deepEqual(findInStudio(marks, 3), { x: 0.1, top: 0.5, height: 0.4 });
});

test("a mark in parts of a drawing becomes pixels", () => {
  const set = {};
  const element = { style: { setProperty: (name, value) => (set[name] = value) } };
  const drawing = { offsetLeft: 5, offsetTop: 7, offsetWidth: 200, offsetHeight: 100 };
  putAt(element, drawing, { x: 0.5, top: 0.1, height: 0.2 });
  assert.deepEqual(set, { left: "105px", top: "17px", height: "20px" });
});
