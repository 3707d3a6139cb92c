// The tempo ladder: a button sets a tempo, the box under it marks the tempo as passed.

/** The list of tempos of one fill. */
export class Ladder {
  /**
   * @param {HTMLElement} list
   * @param {{set: (tempo: number) => void, mark: (tempo: number, passed: boolean) => void}} actions
   */
  constructor(list, actions) {
    this.list = list;
    this.actions = actions;
    /** @type {Map<number, {button: HTMLButtonElement, box: HTMLInputElement}>} */
    this.tempos = new Map();
  }

  /** Show the tempos of a fill. @param {number[]} tempos @param {number[]} passed */
  show(tempos, passed) {
    this.tempos.clear();
    this.list.replaceChildren(...tempos.map((tempo) => this.#item(tempo, passed.includes(tempo))));
  }

  /** Mark the tempo that is set. @param {number} tempo */
  press(tempo) {
    for (const [own, { button }] of this.tempos) button.setAttribute("aria-pressed", String(own === tempo));
  }

  /** @param {number} tempo @param {boolean} passed */
  check(tempo, passed) {
    const row = this.tempos.get(tempo);
    if (row) row.box.checked = passed;
  }

  /** @param {number} tempo @param {boolean} passed */
  #item(tempo, passed) {
    const [item, button] = [document.createElement("li"), document.createElement("button")];
    const [label, box] = [document.createElement("label"), document.createElement("input")];
    Object.assign(button, { type: "button", textContent: String(tempo) });
    button.setAttribute("aria-label", `${tempo} bpm`);
    button.addEventListener("click", () => this.actions.set(tempo));
    Object.assign(box, { type: "checkbox", checked: passed });
    box.setAttribute("aria-label", `${tempo} bpm passed`);
    box.addEventListener("change", () => this.actions.mark(tempo, box.checked));
    label.className = "tick";
    label.append(box, "passed");
    item.append(button, label);
    this.tempos.set(tempo, { button, box });
    return item;
  }
}
