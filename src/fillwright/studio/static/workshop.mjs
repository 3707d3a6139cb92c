// The workshop's bench: a caret walks over the strokes of the notation; every change is tried at once.

import { leftAlone } from "/static/studio.mjs";

const KINDS = [
  ["Single", { graces: 0, buzz: false }],
  ["Flam", { graces: 1, buzz: false }],
  ["Drag", { graces: 2, buzz: false }],
  ["Buzz", { graces: 0, buzz: true }],
];
const STROKE = /^(\()?([rl]*)([RL])([>z]*)(\))?$/;

const bench = document.getElementById("bench");

/** Texts as the fields have them, read: {strokes: [{graces, hand, ghost, accent, buzz, on}], slots}; null is a rest. */
function read({ sticking, on }) {
  const places = on.split(",").map((each) => each.trim());
  const strokes = [];
  const slots = sticking.replace(/[,|]/g, " ").split(/\s+/).filter(Boolean).map((word) => {
    const match = STROKE.exec(word);
    if (!match) return null;
    const stroke = {
      hand: match[3],
      graces: match[2].length,
      accent: match[4].includes(">"),
      buzz: match[4].includes("z"),
      ghost: Boolean(match[1]),
      on: places.length === 1 ? places[0] : places[strokes.length],
    };
    strokes.push(stroke);
    return stroke;
  });
  return { strokes, slots };
}

const other = (hand) => (hand === "R" ? "L" : "R");
const kindOf = (stroke) => (stroke.buzz ? 3 : stroke.graces);
const placeOf = (stroke) => stroke.on.split(" with ")[0];

function word(stroke) {
  if (!stroke) return "-";
  const graces = other(stroke.hand).toLowerCase().repeat(stroke.graces);
  const plain = `${graces}${stroke.hand}${stroke.buzz ? "z" : ""}${stroke.accent ? ">" : ""}`;
  return stroke.ghost ? `(${plain})` : plain;
}

/** Put a stroke on another surface; its grace notes stay where they are. */
function lay(stroke, name) {
  const graces = stroke.graces ? stroke.on.split(" with ")[1] : undefined;
  stroke.on = graces && graces !== name ? `${name} with ${graces}` : name;
}

function start() {
  const texts = document.getElementById("texts");
  const stand = document.getElementById("stand");
  const caret = stand.querySelector(".caret");
  const panel = document.getElementById("stroke");
  const token = document.querySelector("main").dataset.token;
  let told = JSON.parse(document.getElementById("told").textContent);
  let fresh = ["wide", "narrow"]; // drawings that show the fill as it is
  let rhythm = texts.rhythm.value;
  let fill = read({ sticking: texts.sticking.value, on: texts.on.value });
  let at = 0;
  let asked = 0;
  const before = [];
  const after = [];

  const written = () => ({
    sticking: fill.slots.map(word).join(" "),
    on: fill.strokes.map((stroke) => stroke.on).join(", "),
    rhythm,
  });

  /** The fields follow: those that are seen, and those that other forms send along. */
  function put(values) {
    for (const [name, value] of Object.entries(values)) {
      for (const field of document.querySelectorAll(`main input[name="${name}"]`)) field.value = value;
    }
  }

  const shown = () => (stand.querySelector(".wide").offsetParent ? "wide" : "narrow");

  /** Ask for the fill as the fields have it, and show it; null where it is none, or a later one was asked for. */
  async function tryOut() {
    const number = ++asked;
    const drawing = shown();
    const body = new URLSearchParams(new FormData(texts));
    body.set("drawing", drawing);
    let found;
    try {
      const answer = await fetch("/workshop/try", { method: "POST", body, headers: { "x-token": token } });
      found = await answer.json();
    } catch {
      found = { wrong: "The studio does not answer; is it still running?" };
    }
    if (number !== asked) return null;
    if (shown() !== drawing) return tryOut(); // the page was turned meanwhile
    if (found.wrong) {
      say([{ words: found.wrong }]);
      return null;
    }
    told = found;
    fresh = [drawing];
    stand.querySelector(`.${drawing}`).innerHTML = found[drawing];
    bench.querySelector(".plan").innerHTML = found.plan;
    const ceiling = found.ceiling ? `, up to ${found.ceiling}` : "";
    document.getElementById("words").textContent = `Grade ${found.grade}${ceiling}: ${found.reason}.`;
    say(found.tight);
    point();
    document.dispatchEvent(new CustomEvent("fill-changed", { detail: found }));
    history.replaceState(null, "", `?${new URLSearchParams(new FormData(texts))}`); // loading again loses nothing
    return found;
  }

  function say(sentences) {
    const list = document.getElementById("tight");
    list.replaceChildren(
      ...sentences.map(({ stroke, words }) => {
        const item = document.createElement("li");
        item.textContent = stroke === undefined ? words : `Stroke ${stroke + 1}: ${words}.`;
        return item;
      }),
    );
    list.hidden = !sentences.length;
  }

  /** Change the stroke under the caret, and remember how the fill was. */
  function change(how) {
    before.push({ ...written(), at });
    after.length = 0;
    leaveRoute();
    how(fill.strokes[at]);
    put(written());
    tryOut();
    show();
  }

  /** What the page said of the route no longer holds, nor does a name that nobody typed. */
  function leaveRoute() {
    const place = document.getElementById("place");
    if (place) place.textContent = "The strokes as they are written.";
    const name = document.getElementById("keep")?.elements.name;
    if (name && name.value === name.defaultValue) name.value = "A fill of my own";
  }

  function step(from, to) {
    const state = from.pop();
    if (!state) return;
    to.push({ ...written(), at });
    ({ at, rhythm } = state);
    fill = read(state);
    put(written());
    tryOut();
    show();
  }

  const move = (by) => {
    at = Math.min(Math.max(at + by, 0), fill.strokes.length - 1);
    point();
    show();
  };

  const surface = (by) => (stroke) => {
    const place = told.surfaces.indexOf(placeOf(stroke)) + by;
    lay(stroke, told.surfaces[Math.min(Math.max(place, 0), told.surfaces.length - 1)]);
  };

  const level = (name) => (stroke) => {
    stroke.accent = name === "accent";
    stroke.ghost = name === "ghost";
  };

  const kind = (stroke) => {
    Object.assign(stroke, KINDS[(kindOf(stroke) + 1) % KINDS.length][1]);
    lay(stroke, placeOf(stroke));
  };

  const acts = {
    ArrowLeft: () => move(-1),
    ArrowRight: () => move(1),
    ArrowUp: () => change(surface(-1)),
    ArrowDown: () => change(surface(1)),
    h: () => change((stroke) => (stroke.hand = other(stroke.hand))),
    a: () => change(level("accent")),
    g: () => change(level("ghost")),
    t: () => change(level("tap")),
    f: () => change(kind),
    z: () => step(before, after),
    y: () => step(after, before),
  };

  document.addEventListener("keydown", (event) => {
    const act = acts[event.key];
    if (!act || leftAlone(event)) return;
    event.preventDefault();
    act();
  });

  /** The drawing that is seen, and where the strokes stand in it. */
  const seen = () => ({ box: stand.querySelector(`.${shown()}`), marks: told.marks[shown()] });

  /** Put the caret on its stroke, and a double line under every stroke that a hand can't reach. */
  function point() {
    const { box, marks } = seen();
    const mark = marks?.[at];
    caret.hidden = !mark;
    for (const old of stand.querySelectorAll(".unreached")) old.remove();
    if (!mark) return;
    standAt(caret, box, mark);
    for (const { stroke } of told.tight) stand.append(standAt(unreached(), box, marks[stroke]));
  }

  function standAt(element, box, [left, top, height]) {
    element.style.setProperty("left", `${box.offsetLeft + left * box.offsetWidth}px`);
    element.style.setProperty("top", `${box.offsetTop + top * box.offsetHeight}px`);
    element.style.setProperty("height", `${height * box.offsetHeight}px`);
    return element;
  }

  const unreached = () => Object.assign(document.createElement("span"), { className: "unreached" });

  stand.addEventListener("click", (event) => {
    const { box, marks } = seen();
    const place = box.getBoundingClientRect();
    const far = ([x, top, height]) => {
      const dx = event.clientX - place.left - x * place.width;
      const dy = event.clientY - place.top - (top + height / 2) * place.height;
      return Math.hypot(dx, dy / 3);
    };
    at = marks.reduce((best, mark, i) => (far(mark) < far(marks[best]) ? i : best), 0);
    move(0);
  });

  /** What can be done with the stroke, beside it. */
  function show() {
    const stroke = fill.strokes[at];
    const own = !stroke.accent && !stroke.ghost ? "Tap" : stroke.accent ? "Accent" : "Ghost";
    panel.hidden = false;
    panel.replaceChildren(
      heading("h2", `Stroke ${at + 1} of ${fill.strokes.length}`),
      row(
        button("Before", "←", acts.ArrowLeft, { disabled: at === 0 }),
        button("Next", "→", acts.ArrowRight, { disabled: at === fill.strokes.length - 1 }),
        button("Undo", "z", acts.z, { disabled: !before.length }),
        button("Redo", "y", acts.y, { disabled: !after.length }),
      ),
      heading("h3", "Hand and kind"),
      row(
        button(stroke.hand === "R" ? "Right hand" : "Left hand", "h", acts.h),
        button(KINDS[kindOf(stroke)]?.[0] ?? "Ruff", "f", acts.f),
      ),
      heading("h3", "Loudness"),
      row(
        ...[["Accent", "a"], ["Tap", "t"], ["Ghost", "g"]].map(([name, key]) =>
          button(name, key, acts[key], { pressed: own === name }),
        ),
      ),
      heading("h3", "On, from the top of the staff down (↑ ↓)"),
      row(
        ...told.surfaces.map((name) =>
          button(name, "", () => change((each) => lay(each, name)), { pressed: placeOf(stroke) === name }),
        ),
      ),
    );
  }

  const heading = (level, text) => Object.assign(document.createElement(level), { textContent: text });

  function row(...buttons) {
    const made = Object.assign(document.createElement("div"), { className: "actions" });
    made.append(...buttons);
    return made;
  }

  function button(name, key, act, { disabled = false, pressed = undefined } = {}) {
    const made = Object.assign(document.createElement("button"), { type: "button", className: "quiet", disabled });
    made.append(name);
    if (key) made.append(" ", Object.assign(document.createElement("kbd"), { textContent: key }));
    if (pressed !== undefined) made.setAttribute("aria-pressed", String(pressed));
    made.addEventListener("click", () => {
      const place = [...panel.querySelectorAll("button")].indexOf(made);
      act();
      // the rows are made anew: the focus goes on where it was, or to what can still be pressed beside it
      const now = panel.querySelectorAll("button")[place];
      (now.disabled ? now.parentElement.querySelector("button:enabled") : now)?.focus();
    });
    return made;
  }

  texts.addEventListener("submit", async (event) => {
    event.preventDefault();
    const state = { ...written(), at };
    const found = await tryOut();
    if (!found) return; // what was typed stays to be mended
    leaveRoute();
    before.push(state);
    after.length = 0;
    ({ rhythm } = found);
    fill = read(found);
    at = Math.min(at, fill.strokes.length - 1);
    put(written());
    move(0);
  });

  addEventListener("resize", () => {
    if (fresh.includes(shown())) point();
    else tryOut();
  });
  show();
  point();
}

if (bench) start();
