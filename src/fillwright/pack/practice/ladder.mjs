// The tempo ladder: a rung sets the tempo, its box says that it was reached.

export class Ladder {
  /** @param told {set(tempo), tick(tempo, on)}: what to do when a rung is pressed, or its box */
  constructor(list, told) {
    Object.assign(this, { list, told, rungs: new Map() });
  }

  lay(tempos, reached) {
    this.rungs.clear();
    this.list.replaceChildren(...tempos.map((tempo) => this.#rung(tempo, reached.includes(tempo))));
  }

  press(tempo) {
    for (const [each, { button }] of this.rungs) button.setAttribute("aria-pressed", String(each === tempo));
  }

  check(tempo, on) {
    this.rungs.get(tempo).box.checked = on;
  }

  #rung(tempo, on) {
    const [item, button, label, box] = ["li", "button", "label", "input"].map((name) => document.createElement(name));
    Object.assign(button, { type: "button", textContent: tempo });
    button.setAttribute("aria-label", `Tempo ${tempo}`);
    button.addEventListener("click", () => this.told.set(tempo));
    Object.assign(box, { type: "checkbox", checked: on });
    box.setAttribute("aria-label", `Reached ${tempo}`);
    box.addEventListener("change", () => this.told.tick(tempo, box.checked));
    label.className = "tick";
    label.append(box, "reached");
    item.append(button, label);
    this.rungs.set(tempo, { button, box });
    return item;
  }
}
