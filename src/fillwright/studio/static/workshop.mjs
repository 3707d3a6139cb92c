// The workshop's editor: a caret goes over the strokes of the notation, and every change is tried at once.

import { putAt } from "./cursor.mjs";
import { byId, find } from "./elements.mjs";
import { isLeftAlone } from "./studio.mjs";
import { showPanel } from "./workshop_panel.mjs";
import { drumOf, moveTo, nextKind, otherHand, readFill, setDynamics, writeFill } from "./workshop_text.mjs";

/** @typedef {import("./types.d.ts").WrittenStroke} WrittenStroke */
/** @typedef {import("./types.d.ts").WorkshopTexts} WorkshopTexts */
/** @typedef {import("./types.d.ts").TriedFill} TriedFill */
/** @typedef {WorkshopTexts & {at: number}} Version a fill as it was before or after a change */
/** @typedef {"wide" | "narrow"} Width */

/** The fill that is edited, its drawing and its fields. */
class Editor {
  constructor() {
    this.texts = /** @type {HTMLFormElement} */ (byId("texts"));
    this.stand = byId("stand");
    this.caret = find(this.stand, ".caret");
    /** @type {TriedFill} */
    this.tried = JSON.parse(byId("told").textContent ?? "");
    /** @type {Width[]} */
    this.fresh = ["wide", "narrow"]; // drawings that show the fill as it is
    this.rhythm = String(this.texts.rhythm.value);
    this.fill = readFill({ sticking: this.texts.sticking.value, on: this.texts.on.value });
    this.at = 0;
    this.requests = 0;
    /** @type {Version[]} */
    this.before = [];
    /** @type {Version[]} */
    this.after = [];
    this.actions = this.#listActions();
    this.#listen();
    this.show();
    this.point();
  }

  /** @returns {Record<string, () => void>} by their keys */
  #listActions() {
    return {
      ArrowLeft: () => this.move(-1),
      ArrowRight: () => this.move(1),
      ArrowUp: () => this.change((stroke) => this.#step(stroke, -1)),
      ArrowDown: () => this.change((stroke) => this.#step(stroke, 1)),
      h: () => this.change((stroke) => (stroke.hand = otherHand(stroke.hand))),
      a: () => this.change((stroke) => setDynamics(stroke, "accent")),
      g: () => this.change((stroke) => setDynamics(stroke, "ghost")),
      t: () => this.change((stroke) => setDynamics(stroke, "tap")),
      f: () => this.change(nextKind),
      z: () => this.restore(this.before, this.after),
      y: () => this.restore(this.after, this.before),
    };
  }

  #listen() {
    document.addEventListener("keydown", (event) => {
      const action = this.actions[event.key];
      if (!action || isLeftAlone(event)) return;
      event.preventDefault();
      action();
    });
    this.stand.addEventListener("click", (event) => this.#pick(event));
    this.texts.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#submit();
    });
    addEventListener("resize", () => {
      if (this.fresh.includes(this.shown())) this.point();
      else this.tryOut();
    });
  }

  /** Return which drawing is visible. @returns {Width} */
  shown() {
    return find(this.stand, ".wide").offsetParent ? "wide" : "narrow";
  }

  /** Return the fill as the fields write it, and the caret. @returns {Version} */
  version() {
    return { ...writeFill(this.fill, this.rhythm), at: this.at };
  }

  /** Put texts into the fields: those that are visible, and those that other forms send along. @param {WorkshopTexts} texts */
  write({ sticking, on, rhythm }) {
    for (const [name, value] of Object.entries({ sticking, on, rhythm })) {
      const fields = /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll(`main input[name="${name}"]`));
      for (const field of fields) field.value = value;
    }
  }

  /**
   * Try the fill as the fields have it, and show it; return null if it is refused or a later one is tried.
   * @returns {Promise<TriedFill | null>}
   */
  async tryOut() {
    const number = ++this.requests;
    const drawing = this.shown();
    const tried = await this.#request(drawing);
    if (number !== this.requests) return null;
    if (this.shown() !== drawing) return this.tryOut(); // the page was turned meanwhile
    if (tried.wrong) {
      this.#report([{ words: tried.wrong }]);
      return null;
    }
    this.tried = tried;
    this.fresh = [drawing];
    find(this.stand, `.${drawing}`).innerHTML = tried[drawing] ?? "";
    find(byId("bench"), ".plan").innerHTML = tried.plan;
    const ceiling = tried.ceiling ? `, top tempo ${tried.ceiling} bpm` : "";
    byId("words").textContent = `Grade ${tried.grade}${ceiling}: ${tried.reason}.`;
    this.#report(tried.tight);
    this.point();
    document.dispatchEvent(new CustomEvent("fill-changed", { detail: tried }));
    history.replaceState(null, "", `?${formQuery(this.texts)}`); // loading again loses nothing
    return tried;
  }

  /** @param {Width} drawing @returns {Promise<TriedFill>} */
  async #request(drawing) {
    const body = formQuery(this.texts);
    body.set("drawing", drawing);
    const token = find(document, "main").dataset.token ?? "";
    try {
      const response = await fetch("/workshop/try", { method: "POST", body, headers: { "x-token": token } });
      return await response.json();
    } catch {
      return { ...this.tried, wrong: "The studio does not answer. Is it still running?" };
    }
  }

  /** List what is wrong, or hard to reach. @param {{stroke?: number, words: string}[]} sentences */
  #report(sentences) {
    const list = byId("tight");
    list.replaceChildren(
      ...sentences.map(({ stroke, words }) => {
        const item = document.createElement("li");
        item.textContent = stroke === undefined ? words : `Stroke ${stroke + 1}: ${words}.`;
        return item;
      }),
    );
    list.hidden = !sentences.length;
  }

  /** Change the stroke under the caret, and keep the version before. @param {(stroke: WrittenStroke) => void} how */
  change(how) {
    this.before.push(this.version());
    this.after.length = 0;
    forgetRoute();
    how(this.fill.strokes[this.at]);
    this.write(writeFill(this.fill, this.rhythm));
    this.tryOut();
    this.show();
  }

  /** Go back to a version, or forward again. @param {Version[]} from @param {Version[]} to */
  restore(from, to) {
    const version = from.pop();
    if (!version) return;
    to.push(this.version());
    ({ at: this.at, rhythm: this.rhythm } = version);
    this.fill = readFill(version);
    this.write(version);
    this.tryOut();
    this.show();
  }

  /** Move the caret. @param {number} by strokes */
  move(by) {
    this.at = Math.min(Math.max(this.at + by, 0), this.fill.strokes.length - 1);
    this.point();
    this.show();
  }

  /** Move a stroke up or down the staff. @param {WrittenStroke} stroke @param {number} by */
  #step(stroke, by) {
    const { surfaces } = this.tried;
    const index = surfaces.indexOf(drumOf(stroke)) + by;
    moveTo(stroke, surfaces[Math.min(Math.max(index, 0), surfaces.length - 1)]);
  }

  /** Put the caret on its stroke, and a double line under every stroke that a hand can't reach. */
  point() {
    const drawing = find(this.stand, `.${this.shown()}`);
    const marks = this.tried.marks[this.shown()];
    const mark = marks?.[this.at];
    this.caret.hidden = !mark;
    for (const old of this.stand.querySelectorAll(".unreached")) old.remove();
    if (!marks || !mark) return;
    putAt(this.caret, drawing, markPosition(mark));
    for (const { stroke } of this.tried.tight) {
      if (stroke === undefined) continue;
      const line = Object.assign(document.createElement("span"), { className: "unreached" });
      this.stand.append(putAt(line, drawing, markPosition(marks[stroke])));
    }
  }

  /** Put the caret on the stroke nearest to a click. @param {MouseEvent} event */
  #pick(event) {
    const box = find(this.stand, `.${this.shown()}`).getBoundingClientRect();
    const marks = this.tried.marks[this.shown()] ?? [];
    const distances = marks.map(([x, top, height]) => {
      const dx = event.clientX - box.left - x * box.width;
      const dy = event.clientY - box.top - (top + height / 2) * box.height;
      return Math.hypot(dx, dy / 3);
    });
    this.at = Math.max(0, distances.indexOf(Math.min(...distances)));
    this.move(0);
  }

  /** Show what can be done with the stroke under the caret. */
  show() {
    showPanel(byId("stroke"), {
      at: this.at,
      strokes: this.fill.strokes,
      surfaces: this.tried.surfaces,
      canUndo: this.before.length > 0,
      canRedo: this.after.length > 0,
      actions: this.actions,
      change: (how) => this.change(how),
    });
  }

  /** Take what was typed into the fields. */
  async #submit() {
    const version = this.version();
    const tried = await this.tryOut();
    if (!tried) return; // what was typed stays to be corrected
    forgetRoute();
    this.before.push(version);
    this.after.length = 0;
    this.rhythm = tried.rhythm;
    this.fill = readFill(tried);
    this.at = Math.min(this.at, this.fill.strokes.length - 1);
    this.write(writeFill(this.fill, this.rhythm));
    this.move(0);
  }
}

/** @param {import("./types.d.ts").StrokeMark} mark */
function markPosition([x, top, height]) {
  return { x, top, height };
}

/** @param {HTMLFormElement} form */
function formQuery(form) {
  const texts = [...new FormData(form)].map(([name, value]) => [name, String(value)]);
  return new URLSearchParams(texts);
}

/** Clear what the page says of the route, and a name that no one typed: neither holds for a changed fill. */
function forgetRoute() {
  const place = document.getElementById("place");
  if (place) place.textContent = "The strokes as they are written.";
  const form = /** @type {HTMLFormElement | null} */ (document.getElementById("keep"));
  const name = /** @type {HTMLInputElement | null} */ (form?.elements.namedItem("name") ?? null);
  if (name && name.value === name.defaultValue) name.value = "A fill of my own";
}

if (document.getElementById("bench")) new Editor();
