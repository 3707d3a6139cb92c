// What the page keeps, and that it still reads what older pages kept.

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { Memory } from "../../src/fillwright/pack/practice/keep.mjs";
import { markTempo } from "../../src/fillwright/pack/practice/tempos.mjs";

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

const fill = { slug: "a", ladder: [60, 70, 80] };

/** @param {Memory<typeof defaults>} tab @param {number} tempo @param {boolean} passed */
const mark = (tab, tempo, passed = true) => tab.update((kept) => ({ reached: markTempo(kept, fill, tempo, passed) }));

test("two tabs lose no tick of each other", () => {
  const [one, two] = [new Memory(KEY, defaults), new Memory(KEY, defaults)];
  mark(one, 60);
  mark(two, 70);
  mark(one, 80);
  two.set({ click: 4 });
  one.set({ count: 2 });
  const kept = new Memory(KEY, defaults).state;
  assert.deepEqual(kept.reached, { a: [60, 70, 80] });
  assert.deepEqual([kept.click, kept.count], [4, 2]);
  mark(two, 60, false);
  assert.deepEqual(new Memory(KEY, defaults).state.reached, { a: [70, 80] });
});

test("a tab shows the ticks of another one and keeps its own switches", () => {
  const listeners = [];
  globalThis.addEventListener = (name, listener) => name === "storage" && listeners.push(listener);
  const [one, two] = [new Memory(KEY, defaults), new Memory(KEY, defaults)];
  let shown = 0;
  two.follow(["reached"], () => (shown += 1));
  mark(one, 60);
  one.set({ loop: false });
  for (const key of ["another page", KEY]) listeners.forEach((listener) => listener({ key }));
  assert.equal(shown, 1);
  assert.deepEqual(two.state.reached, { a: [60] });
  assert.equal(two.state.loop, true);
  delete globalThis.addEventListener;
});

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
