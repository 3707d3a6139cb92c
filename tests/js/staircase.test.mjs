// The staircase and the ladder, on a page of the few things that they touch.

import assert from "node:assert/strict";
import { test } from "node:test";
import { Ladder } from "../../src/fillwright/pack/practice/ladder.mjs";
import { Staircase } from "../../src/fillwright/pack/practice/staircase.mjs";

/** An element with the properties that the modules use. */
class Part {
  constructor(name = "div") {
    Object.assign(this, { name, attributes: {}, dataset: {}, children: [], listeners: {}, scrollLeft: 0, scrollTop: 0 });
    const classes = new Set();
    this.classes = classes;
    this.classList = { toggle: (word, on) => (on ? classes.add(word) : classes.delete(word)) };
  }
  setAttribute(name, value) {
    this.attributes[name] = value;
  }
  removeAttribute(name) {
    delete this.attributes[name];
  }
  addEventListener(name, listener) {
    this.listeners[name] = listener;
  }
  append(...children) {
    this.children.push(...children);
  }
  replaceChildren(...children) {
    this.children = children;
  }
  querySelectorAll(selector) {
    return this.children.filter((child) => child.name === selector.replace(".", ""));
  }
  closest() {
    return null;
  }
  getBoundingClientRect() {
    return this.rect ?? { left: 0, right: 100, top: 0, bottom: 100 };
  }
}

function makeStairs(...words) {
  const nav = new Part("nav");
  for (const word of words) {
    const stair = new Part("stair");
    stair.dataset.words = word;
    stair.append(new Part("i"), new Part("i"), new Part("i"));
    nav.append(stair);
  }
  return nav;
}

test("only the fill that is shown is current", () => {
  const nav = makeStairs("one", "two");
  const staircase = new Staircase(nav, () => {});
  staircase.show(0);
  staircase.show(1);
  assert.deepEqual(nav.children.map((stair) => stair.attributes["aria-current"]), [undefined, "step"]);
});

test("a stair that is pressed gives its index", () => {
  const pressed = [];
  const nav = makeStairs("one", "two");
  new Staircase(nav, (index) => pressed.push(index));
  nav.children[1].listeners.click();
  assert.deepEqual(pressed, [1]);
});

test("passed tempos are filled in and spoken", () => {
  const nav = makeStairs("3. Flam. Grade 2");
  new Staircase(nav, () => {}).mark(0, [60, 75, 90], [60, 90, 100]);
  const [stair] = nav.children;
  assert.deepEqual(stair.children.map((box) => box.classes.has("on")), [true, false, true]);
  assert.equal(stair.attributes["aria-label"], "3. Flam. Grade 2. 2 of 3 tempos passed");
});

test("a stair out of sight scrolls the staircase", () => {
  const nav = makeStairs("one", "two");
  nav.children[1].rect = { left: 500, right: 540, top: 0, bottom: 10 };
  new Staircase(nav, () => {}).show(1);
  assert.equal(nav.scrollLeft, 410);
});

test("a tempo sets itself, its box marks it, and one is pressed", () => {
  globalThis.document = { createElement: (name) => new Part(name) };
  const calls = [];
  const list = new Part("ol");
  const ladder = new Ladder(list, { set: (tempo) => calls.push(tempo), mark: (...how) => calls.push(how) });
  ladder.show([60, 90], [90]);
  const [[slow, slowLabel], [fast, fastLabel]] = list.children.map((item) => item.children);
  assert.deepEqual([slowLabel, fastLabel].map((label) => label.children[0].checked), [false, true]);
  fast.listeners.click();
  slowLabel.children[0].checked = true;
  slowLabel.children[0].listeners.change();
  assert.deepEqual(calls, [90, [60, true]]);
  ladder.press(90);
  assert.deepEqual([slow, fast].map((button) => button.attributes["aria-pressed"]), ["false", "true"]);
  ladder.check(90, false);
  assert.equal(fastLabel.children[0].checked, false);
  ladder.check(77, true);
});
