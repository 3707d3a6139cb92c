// What the page keeps, and that it still reads what older pages kept.

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { Memory } from "../../src/fillwright/pack/practice/keep.mjs";

const defaults = { at: "", tempos: {}, reached: {}, loop: true, silent: false, click: 2, count: 1, day: "", seconds: 0 };
const KEY = "fillwright/kitchen-table-fills/3/small";
const store = new Map();

beforeEach(() => {
  store.clear();
  globalThis.localStorage = { getItem: (key) => store.get(key) ?? null, setItem: (key, text) => store.set(key, text) };
});

test("what is kept is there the next time", () => {
  new Memory(KEY, defaults).set({ click: 4, reached: { a: [60] } });
  assert.deepEqual(new Memory(KEY, defaults).state, { ...defaults, click: 4, reached: { a: [60] } });
});

test("what a page of the first version kept is read", () => {
  const kept = {
    at: "02-flam-whole-bar", tempos: { "02-flam-whole-bar": 75 }, reached: { "02-flam-whole-bar": [60, 75] },
    loop: false, silent: true, click: 0, count: 2, day: "2024-05-01", seconds: 310.5,
  };
  store.set(KEY, JSON.stringify(kept));
  assert.deepEqual(new Memory(KEY, defaults).state, kept);
});

for (const text of ["{", "null", "[]", '"x"', '{"click": "loud", "tempos": 3, "loop": null}']) {
  test(`${text} is left aside`, () => {
    store.set(KEY, text);
    assert.deepEqual(new Memory(KEY, defaults).state, defaults);
  });
}

test("the page works where nothing may be kept", () => {
  Object.defineProperty(globalThis, "localStorage", {
    configurable: true,
    get() {
      throw new Error("no");
    },
  });
  const memory = new Memory(KEY, defaults);
  memory.set({ click: 1 });
  assert.equal(memory.state.click, 1);
  Object.defineProperty(globalThis, "localStorage", { configurable: true, writable: true, value: undefined });
});
