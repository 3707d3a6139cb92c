// The staircase: a stair for each fill, which of them is on the stand, and the tempos reached on each.

export class Staircase {
  /** @param onStep told the index of the stair that was pressed */
  constructor(nav, onStep) {
    this.nav = nav;
    this.stairs = [...nav.querySelectorAll(".stair")];
    for (const [i, stair] of this.stairs.entries()) stair.addEventListener("click", () => onStep(i));
  }

  /** This one is on the stand. */
  stand(index) {
    for (const [i, stair] of this.stairs.entries()) {
      if (i === index) stair.setAttribute("aria-current", "step");
      else stair.removeAttribute("aria-current");
    }
    this.#bringIntoSight(this.stairs[index]);
  }

  /** The tempos reached on a stair. */
  mark(index, tempos, reached) {
    const stair = this.stairs[index];
    [...stair.querySelectorAll("i")].forEach((mark, i) => mark.classList.toggle("on", reached.includes(tempos[i])));
    const done = tempos.filter((tempo) => reached.includes(tempo)).length;
    stair.setAttribute("aria-label", `${stair.dataset.words}. ${done} of ${tempos.length} tempos reached`);
  }

  /** Moves the staircase, not the page. */
  #bringIntoSight(stair) {
    for (const box of [stair.closest(".flights"), this.nav]) {
      const [outer, inner] = [box.getBoundingClientRect(), stair.getBoundingClientRect()];
      if (inner.left < outer.left || inner.right > outer.right) box.scrollLeft += inner.left - outer.left - 90;
      const scrolls = box.scrollHeight > box.clientHeight;
      if (scrolls && (inner.top < outer.top || inner.bottom > outer.bottom)) {
        box.scrollTop += inner.top - outer.top - 120;
      }
    }
  }
}
