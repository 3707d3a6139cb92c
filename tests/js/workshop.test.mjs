// Fills as the workshop's fields write them, and takes as files.

import assert from "node:assert/strict";
import { test } from "node:test";
import { findDelay, middleDelay } from "../../src/fillwright/studio/static/delay.mjs";
import { encodeMidi, encodeWave } from "../../src/fillwright/studio/static/takefiles.mjs";
import {
  drumOf, kindOf, moveTo, nextKind, readFill, setDynamics, writeFill,
} from "../../src/fillwright/studio/static/workshop_text.mjs";

for (const [sticking, on] of [
  ["R L R> L", "snare, high tom, snare, floor tom"],
  ["lR> - (L) rrL Rz", "snare, high tom, snare, floor tom with snare"],
]) {
  test(`${sticking} is written as it was read`, () => {
    assert.deepEqual(writeFill(readFill({ sticking, on }), "16"), { sticking, on, rhythm: "16" });
  });
}

test("one drum is that of every stroke; bars and commas are read as spaces", () => {
  const { strokes, slots } = readFill({ sticking: "R, L | - R", on: "snare" });
  assert.deepEqual(strokes.map((stroke) => stroke.on), ["snare", "snare", "snare"]);
  assert.equal(slots[2], null);
});

test("a stroke goes through the kinds and back, and keeps its drum", () => {
  const [stroke] = readFill({ sticking: "R", on: "high tom" }).strokes;
  const kinds = [];
  for (let i = 0; i < 4; i++) {
    nextKind(stroke);
    kinds.push(kindOf(stroke));
  }
  assert.deepEqual(kinds, [1, 2, 3, 0]);
  assert.equal(stroke.on, "high tom");
});

test("grace notes stay on their drum when the stroke moves", () => {
  const [stroke] = readFill({ sticking: "lR", on: "floor tom with snare" }).strokes;
  moveTo(stroke, "high tom");
  assert.deepEqual([stroke.on, drumOf(stroke)], ["high tom with snare", "high tom"]);
  moveTo(stroke, "snare");
  assert.equal(stroke.on, "snare");
});

test("a stroke is an accent, a ghost note or a tap", () => {
  const [stroke] = readFill({ sticking: "(R)", on: "snare" }).strokes;
  for (const [name, accent, ghost] of [["accent", true, false], ["ghost", false, true], ["tap", false, false]]) {
    setDynamics(stroke, name);
    assert.deepEqual([stroke.accent, stroke.ghost], [accent, ghost]);
  }
});

test("the delay is where a click was recorded after it was played", () => {
  const blocks = [new Float32Array(1000), new Float32Array(1000)];
  blocks[1][100] = 0.5;
  assert.equal(findDelay(blocks, 700, 1000), 0.4);
  assert.equal(findDelay(blocks, 1000, 1000), 0.1);
  assert.ok(Number.isNaN(findDelay(blocks, 0, 1000)));
});

test("the middle of six delays is kept; delays that disagree are refused", () => {
  assert.equal(middleDelay([0.101, 0.1, 0.9, 0.102, 0.103, 0.1]), 0.102);
  assert.throws(() => middleDelay([0.1, 0.1, 0.2, 0.2, 0.3, 0.3]), /not clear/);
  assert.throws(() => middleDelay([NaN, NaN, NaN, NaN, NaN, NaN]), /not clear/);
});

test("a WAVE file holds every sample at sixteen bits", () => {
  const view = new DataView(encodeWave([Float32Array.of(0, 1), Float32Array.of(-1)], 48000));
  assert.equal(view.getUint32(24, true), 48000);
  assert.deepEqual([44, 46, 48].map((at) => view.getInt16(at, true)), [0, 32767, -32767]);
});

test("a MIDI file starts with its head and ends its track", () => {
  const bytes = [...encodeMidi([[0, 38, 100], [500, 36, 90]])];
  assert.deepEqual(bytes.slice(0, 4), [0x4d, 0x54, 0x68, 0x64]);
  assert.deepEqual(bytes.slice(-4), [0, 0xff, 0x2f, 0]);
  assert.equal(bytes.filter((byte) => byte === 0x99).length, 2);
});
