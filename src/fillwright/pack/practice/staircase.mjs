// The staircase: a stair for each fill, which of them is shown, and the tempos passed on each.

/** The list of fills as stairs. */
export class Staircase {
  /**
   * @param {HTMLElement} nav
   * @param {(index: number) => void} onStair called with the index of a stair that is pressed
   */
  constructor(nav, onStair) {
    this.nav = nav;
    this.stairs = [.../** @type {NodeListOf<HTMLElement>} */ (nav.querySelectorAll(".stair"))];
    for (const [i, stair] of this.stairs.entries()) stair.addEventListener("click", () => onStair(i));
  }

  /** Mark the fill that is shown. @param {number} index */
  show(index) {
    for (const [i, stair] of this.stairs.entries()) {
      if (i === index) stair.setAttribute("aria-current", "step");
      else stair.removeAttribute("aria-current");
    }
    this.#bringIntoSight(this.stairs[index]);
  }

  /**
   * Show the tempos passed on a stair.
   * @param {number} index
   * @param {number[]} tempos
   * @param {number[]} passed
   */
  mark(index, tempos, passed) {
    const stair = this.stairs[index];
    [...stair.querySelectorAll("i")].forEach((box, i) => box.classList.toggle("on", passed.includes(tempos[i])));
    const done = tempos.filter((tempo) => passed.includes(tempo)).length;
    stair.setAttribute("aria-label", `${stair.dataset.words}. ${done} of ${tempos.length} tempos passed`);
  }

  /** Scroll the staircase, not the page. @param {HTMLElement} stair */
  #bringIntoSight(stair) {
    const boxes = [stair.closest(".flights"), this.nav].filter((box) => box !== null);
    for (const box of boxes) {
      const [outer, inner] = [box.getBoundingClientRect(), stair.getBoundingClientRect()];
      if (inner.left < outer.left || inner.right > outer.right) box.scrollLeft += inner.left - outer.left - 90;
      const scrolls = box.scrollHeight > box.clientHeight;
      if (scrolls && (inner.top < outer.top || inner.bottom > outer.bottom)) {
        box.scrollTop += inner.top - outer.top - 120;
      }
    }
  }
}
