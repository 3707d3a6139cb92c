// One-shots cut out of a recording.

import assert from "node:assert/strict";
import { test } from "node:test";
import { Bank, findPulse } from "../../src/fillwright/pack/practice/bank.mjs";

const PACKED = {
  rate: 44100,
  pulse: 100,
  sounds: {
    snare: { power: 2, layers: [[40, [[50, 10]]], [120, [[100, 20], [150, 20]]]] },
  },
};

/** A recording with its pulse at a moment, and in each sample after it the sample's own number. */
function record(top, rate = 44100, size = 600) {
  const data = Float32Array.from({ length: size }, (_, i) => (i > top + 20 ? i / 100_000 : 0));
  data.set([0.3, 0.9, 0.3], top - 1);
  return { sampleRate: rate, length: size, numberOfChannels: 1, getChannelData: () => data };
}

const context = {
  createBuffer: (channels, length, sampleRate) => {
    const sides = Array.from({ length: channels }, () => new Float32Array(length));
    return { length, sampleRate, sides, copyToChannel: (data, side) => sides[side].set(data) };
  },
};

test("the pulse is found wherever a decoder puts it", () => {
  for (const top of [100, 137, 210]) assert.equal(findPulse(record(top), PACKED), top);
});

test("a pulse between two samples is found between them", () => {
  const recording = record(100);
  recording.getChannelData().set([0.5, 0.9, 0.7], 99);
  const top = findPulse(recording, PACKED);
  assert.ok(top > 100 && top < 100.5, String(top));
});

test("shots are cut at their distance from the pulse, both sides of a mono recording alike", () => {
  const bank = new Bank(context, record(130), PACKED);
  const { buffer, level } = bank.pick("snare", 120, 0);
  assert.equal(level, 1);
  assert.equal(buffer.length, 20);
  assert.ok(Math.abs(buffer.sides[0][0] - 230 / 100_000) < 1e-9);
  assert.deepEqual(buffer.sides[0], buffer.sides[1]);
});

test("variations take turns", () => {
  const bank = new Bank(context, record(100), PACKED);
  const shots = [0, 1, 2].map((count) => bank.pick("snare", 120, count).buffer);
  assert.notEqual(shots[0], shots[1]);
  assert.equal(shots[0], shots[2]);
});

test("a velocity between two layers takes the nearer one, scaled by the sound's power", () => {
  const bank = new Bank(context, record(100), PACKED);
  const { buffer, level } = bank.pick("snare", 60, 0);
  assert.equal(buffer.length, 10);
  assert.equal(level, (60 / 40) ** 2);
});

test("a recording decoded at another rate is cut in its own samples", () => {
  const bank = new Bank(context, record(200, 88200, 1200), PACKED);
  assert.equal(bank.pick("snare", 120, 0).buffer.length, 40);
});

test("an unknown sound is named", () => {
  assert.throws(() => new Bank(context, record(100), PACKED).pick("gong", 90, 0), /no sound "gong"/);
});
