// The workshop's bench: a caret walks over the strokes of the notation; every change is tried at once.

const bench = document.getElementById("bench");
if (bench) start();

function start() {
  const texts = document.getElementById("texts");
  const keep = document.getElementById("keep");
  const stand = document.getElementById("stand");
  const caret = stand.querySelector(".caret");
  const panel = document.getElementById("stroke");
  const token = document.querySelector("main").dataset.token;
  let told = JSON.parse(document.getElementById("told").textContent);
  let fill = read();
  let at = 0;
  const before = [];
  const after = [];
  let asked = 0;

  /** The fill as the fields have it: {strokes: [{graces, hand, ghost, accent, buzz, on, slot}], slots, rhythm}. */
  function read() {
    const words = texts.sticking.value.replaceAll(",", " ").replaceAll("|", " ").split(/\s+/).filter(Boolean);
    const on = texts.on.value.split(",").map((each) => each.trim());
    const strokes = [];
    const slots = words.map((word) => {
      const match = /^(\()?([rl]*)([RL])([>z]*)(\))?$/.exec(word);
      if (!match) return null;
      const stroke = {
        hand: match[3],
        graces: match[2].length,
        accent: match[4].includes(">"),
        buzz: match[4].includes("z"),
        ghost: Boolean(match[1]),
        on: on.length === 1 ? on[0] : on[strokes.length],
      };
      strokes.push(stroke);
      return stroke;
    });
    return { strokes, slots };
  }

  const other = (hand) => (hand === "R" ? "L" : "R");

  function word(stroke) {
    if (!stroke) return "-";
    const graces = other(stroke.hand).toLowerCase().repeat(stroke.graces);
    const plain = `${graces}${stroke.hand}${stroke.buzz ? "z" : ""}${stroke.accent ? ">" : ""}`;
    return stroke.ghost ? `(${plain})` : plain;
  }

  const written = () => ({
    sticking: fill.slots.map(word).join(" "),
    on: fill.strokes.map((stroke) => stroke.on).join(", "),
  });

  function put({ sticking, on }) {
    texts.sticking.value = sticking;
    texts.on.value = on;
    if (keep) Object.assign(keep.sticking, { value: sticking });
    if (keep) Object.assign(keep.on, { value: on });
    if (keep) Object.assign(keep.rhythm, { value: texts.rhythm.value });
  }

  async function tryOut() {
    const number = ++asked;
    const body = new URLSearchParams(new FormData(texts));
    const answer = await fetch("/workshop/try", { method: "POST", body, headers: { "x-token": token } });
    const found = await answer.json();
    if (number !== asked) return; // a later change has overtaken this one
    if (found.wrong) {
      say([{ words: found.wrong }]);
      return;
    }
    told = found;
    stand.querySelector(".wide").innerHTML = found.wide;
    stand.querySelector(".narrow").innerHTML = found.narrow;
    bench.querySelector(".plan").innerHTML = found.plan;
    const ceiling = found.ceiling ? `, up to ${found.ceiling}` : "";
    document.getElementById("words").textContent = `Grade ${found.grade}${ceiling}: ${found.reason}.`;
    say(found.tight);
    point();
    document.dispatchEvent(new CustomEvent("fill-changed", { detail: found }));
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

  /** Change the stroke under the caret, or all of the fill, and remember how it was. */
  function change(how) {
    before.push({ ...written(), at });
    after.length = 0;
    how(fill.strokes[at]);
    put(written());
    tryOut();
    show();
  }

  function step(from, to) {
    const state = from.pop();
    if (!state) return;
    to.push({ ...written(), at });
    put(state);
    fill = read();
    at = state.at;
    tryOut();
    show();
  }

  const move = (by) => {
    at = Math.min(Math.max(at + by, 0), fill.strokes.length - 1);
    point();
    show();
  };

  const surface = (by) => (stroke) => {
    const names = told.surfaces;
    const place = names.indexOf(stroke.on.split(" with ")[0]);
    stroke.on = names[Math.min(Math.max(place + by, 0), names.length - 1)];
  };

  const level = (name) => (stroke) => {
    stroke.accent = name === "accent";
    stroke.ghost = name === "ghost";
  };

  const kinds = [
    ["single", { graces: 0, buzz: false }],
    ["flam", { graces: 1, buzz: false }],
    ["drag", { graces: 2, buzz: false }],
    ["buzz", { graces: 0, buzz: true }],
  ];
  const kindOf = (stroke) => (stroke.buzz ? 3 : stroke.graces);

  const acts = {
    ArrowLeft: () => move(-1),
    ArrowRight: () => move(1),
    ArrowUp: () => change(surface(-1)),
    ArrowDown: () => change(surface(1)),
    h: () => change((stroke) => (stroke.hand = other(stroke.hand))),
    a: () => change(level("accent")),
    g: () => change(level("ghost")),
    t: () => change(level("tap")),
    f: () => change((stroke) => Object.assign(stroke, kinds[(kindOf(stroke) + 1) % 4][1])),
    z: () => step(before, after),
    y: () => step(after, before),
  };

  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.target.closest("input, select, textarea, button, a, summary") && !panel.contains(event.target)) return;
    const act = acts[event.key];
    if (!act) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    act();
  });

  /** Put the caret on its stroke in whichever drawing is shown. */
  function point() {
    const wide = stand.querySelector(".wide");
    const shown = wide.offsetParent ? wide : stand.querySelector(".narrow");
    const marks = told.marks[shown === wide ? "wide" : "narrow"];
    const mark = marks[at];
    if (!mark) return;
    caret.hidden = false;
    caret.style.setProperty("left", `${shown.offsetLeft + mark[0] * shown.offsetWidth}px`);
    caret.style.setProperty("top", `${shown.offsetTop + mark[1] * shown.offsetHeight}px`);
    caret.style.setProperty("height", `${mark[2] * shown.offsetHeight}px`);
  }

  stand.addEventListener("click", (event) => {
    const wide = stand.querySelector(".wide");
    const shown = wide.offsetParent ? wide : stand.querySelector(".narrow");
    const box = shown.getBoundingClientRect();
    const marks = told.marks[shown === wide ? "wide" : "narrow"];
    const far = ([x, top, height]) => {
      const dx = event.clientX - box.left - x * box.width;
      const dy = event.clientY - box.top - (top + height / 2) * box.height;
      return Math.hypot(dx, dy / 3);
    };
    at = marks.reduce((best, mark, i) => (far(mark) < far(marks[best]) ? i : best), 0);
    point();
    show();
  });

  /** What can be done with the stroke, beside it. */
  function show() {
    const stroke = fill.strokes[at];
    panel.hidden = false;
    panel.replaceChildren(
      heading(`Stroke ${at + 1} of ${fill.strokes.length}`),
      row(
        button("Before", "←", acts.ArrowLeft),
        button("Next", "→", acts.ArrowRight),
        button("Undo", "z", acts.z, !before.length),
        button("Redo", "y", acts.y, !after.length),
      ),
      row(
        button(stroke.hand === "R" ? "Right hand" : "Left hand", "h", acts.h),
        ...[["Accent", "a", stroke.accent], ["Tap", "t", !stroke.accent && !stroke.ghost], ["Ghost", "g", stroke.ghost]].map(
          ([name, key, on]) => button(name, key, acts[key], false, on),
        ),
        button(kinds[kindOf(stroke)][0], "f", acts.f),
      ),
      row(
        ...told.surfaces.map((name) =>
          button(name, "", () => change((each) => (each.on = name)), false, stroke.on.split(" with ")[0] === name),
        ),
      ),
    );
  }

  const heading = (text) => Object.assign(document.createElement("h3"), { textContent: text });

  function row(...buttons) {
    const made = Object.assign(document.createElement("div"), { className: "actions" });
    made.append(...buttons);
    return made;
  }

  function button(name, key, act, disabled = false, pressed = undefined) {
    const made = Object.assign(document.createElement("button"), { type: "button", className: "quiet", disabled });
    made.append(name);
    if (key) made.append(" ", Object.assign(document.createElement("kbd"), { textContent: key }));
    if (pressed !== undefined) made.setAttribute("aria-pressed", String(pressed));
    made.addEventListener("click", () => {
      act();
      // the row is made anew: the focus goes on where it was
      [...panel.querySelectorAll("button")].find((each) => each.textContent === made.textContent)?.focus();
    });
    return made;
  }

  texts.addEventListener("submit", (event) => {
    event.preventDefault();
    before.push({ ...written(), at });
    fill = read();
    at = Math.min(at, fill.strokes.length - 1);
    put(written());
    tryOut();
    show();
  });
  addEventListener("resize", point);
  show();
  point();
}
