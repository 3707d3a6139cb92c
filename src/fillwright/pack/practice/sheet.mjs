// The sheet: one fill with its words, its music and its plan of the kit.

import { Cursor } from "./cursor.mjs";
import { drawSvg } from "./drawings.mjs";
import { byId } from "./elements.mjs";

const NARROW = matchMedia("(max-width: 559px)"); // a phone held upright, as in page.css
const DOTTED = 0.375; // a dotted quarter in whole notes: the beat of 6/8

/** @typedef {import("./types.d.ts").PageFill} PageFill */

/** Shows one fill of a lesson. */
export class Sheet {
  /** @param {PageFill[]} fills @param {PageFill} fill the one shown first */
  constructor(fills, fill) {
    this.fills = fills;
    this.fill = fill;
    /** @type {Cursor | null} */
    this.cursor = null;
    NARROW.addEventListener("change", () => this.draw());
    addEventListener("beforeprint", () => {
      if (NARROW.matches) byId("music").innerHTML = drawSvg(this.fill.wide);
    });
    addEventListener("afterprint", () => this.draw());
  }

  get index() {
    return this.fills.indexOf(this.fill);
  }

  /** Show another fill. @param {PageFill} fill */
  show(fill) {
    this.fill = fill;
    byId("number").textContent = String(fill.number);
    byId("caption").textContent = fill.caption;
    byId("figure").textContent = `${fill.figure}, ${fill.rhythm.charAt(0).toLowerCase()}${fill.rhythm.slice(1)}`;
    byId("sticking").textContent = fill.sticking;
    byId("groove").textContent = fill.groove;
    byId("grade").textContent = fill.grade;
    byId("ceiling").textContent = fill.ceiling;
    byId("hint").textContent = fill.hint || "–";
    byId("plan").innerHTML = fill.plan;
    byId("back").toggleAttribute("disabled", this.index === 0);
    byId("next").toggleAttribute("disabled", this.index === this.fills.length - 1);
    this.draw();
  }

  /** Draw the music for the width of the screen. */
  draw() {
    const drawing = NARROW.matches ? this.fill.narrow : this.fill.wide;
    byId("music").innerHTML = drawSvg(drawing);
    this.cursor = new Cursor(/** @type {Element} */ (byId("music").firstElementChild), drawing.lines);
  }

  /** Show a tempo beside the note that it counts. @param {number} tempo */
  showTempo(tempo) {
    byId("tempo").textContent = `= ${tempo}`;
    byId("dot").setAttribute("visibility", this.fill.unit === DOTTED ? "visible" : "hidden");
  }
}
