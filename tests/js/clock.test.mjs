// The practice clock.

import assert from "node:assert/strict";
import { test } from "node:test";
import { PracticeClock, formatClock } from "../../src/fillwright/pack/practice/clock.mjs";

test("only time with the clock running counts, on top of what was practised before", () => {
  const clock = new PracticeClock(100);
  clock.start(10);
  clock.tick(25);
  clock.stop(30);
  clock.tick(500);
  assert.deepEqual([clock.today, clock.stretch, clock.running], [120, 20, false]);
});

test("a rest is due after 25 minutes, and not a second before", () => {
  const clock = new PracticeClock();
  clock.start(0);
  clock.tick(25 * 60 - 1);
  assert.equal(clock.restDue, false);
  clock.tick(25 * 60);
  assert.equal(clock.restDue, true);
});

test("five minutes without practice are a rest; less is not", () => {
  const clock = new PracticeClock();
  clock.start(0);
  clock.stop(600);
  clock.start(899);
  assert.equal(clock.stretch, 600);
  clock.stop(899);
  clock.start(1199);
  assert.equal(clock.stretch, 0);
  assert.equal(clock.today, 600);
});

test("a clock that goes back takes nothing away", () => {
  const clock = new PracticeClock();
  clock.start(50);
  clock.tick(40);
  assert.equal(clock.today, 0);
});

test("times are written as a student reads them", () => {
  assert.deepEqual([0, 59.9, 245, 3845].map(formatClock), ["0:00", "0:59", "4:05", "1:04:05"]);
});
