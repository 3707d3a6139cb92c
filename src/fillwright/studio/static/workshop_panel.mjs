// The panel of the workshop: everything that can be done with the stroke under the caret.

import { KINDS, drumOf, kindOf, moveTo } from "./workshop_text.mjs";

/** @typedef {import("./types.d.ts").WrittenStroke} WrittenStroke */
/**
 * @typedef {object} PanelState
 * @property {number} at index of the stroke under the caret
 * @property {WrittenStroke[]} strokes
 * @property {string[]} surfaces from the top of the staff down
 * @property {boolean} canUndo
 * @property {boolean} canRedo
 * @property {Record<string, () => void>} actions by their keys
 * @property {(how: (stroke: WrittenStroke) => void) => void} change
 */

/** Show the panel for the stroke under the caret. @param {HTMLElement} panel @param {PanelState} state */
export function showPanel(panel, { at, strokes, surfaces, canUndo, canRedo, actions, change }) {
  const stroke = strokes[at];
  const dynamics = stroke.accent ? "Accent" : stroke.ghost ? "Ghost" : "Tap";
  /** @type {(name: string, key: string, options?: {action?: () => void, disabled?: boolean, pressed?: boolean}) => Element} */
  const button = (name, key, { action = actions[key], disabled = false, pressed } = {}) =>
    makeButton(panel, { name, key, action, disabled, pressed });
  panel.hidden = false;
  panel.replaceChildren(
    makeHeading("h2", `Stroke ${at + 1} of ${strokes.length}`),
    makeRow(
      button("Previous", "ArrowLeft", { disabled: at === 0 }),
      button("Next", "ArrowRight", { disabled: at === strokes.length - 1 }),
      button("Undo", "z", { disabled: !canUndo }),
      button("Redo", "y", { disabled: !canRedo }),
    ),
    makeHeading("h3", "Hand and kind"),
    makeRow(
      button(stroke.hand === "R" ? "Right hand" : "Left hand", "h"),
      button(KINDS[kindOf(stroke)]?.[0] ?? "Ruff", "f"),
    ),
    makeHeading("h3", "Dynamics"),
    makeRow(
      button("Accent", "a", { pressed: dynamics === "Accent" }),
      button("Tap", "t", { pressed: dynamics === "Tap" }),
      button("Ghost", "g", { pressed: dynamics === "Ghost" }),
    ),
    makeHeading("h3", "Drum or cymbal, from the top of the staff down (↑ ↓)"),
    makeRow(
      ...surfaces.map((name) => {
        const action = () => change((own) => moveTo(own, name));
        return button(name, "", { action, pressed: drumOf(stroke) === name });
      }),
    ),
  );
}

/** @param {"h2" | "h3"} level @param {string} text */
function makeHeading(level, text) {
  return Object.assign(document.createElement(level), { textContent: text });
}

/** @param {...Element} buttons */
function makeRow(...buttons) {
  const row = Object.assign(document.createElement("div"), { className: "actions" });
  row.append(...buttons);
  return row;
}

/** @type {Record<string, string>} */
const KEY_SIGNS = { ArrowLeft: "←", ArrowRight: "→" };

/**
 * @param {HTMLElement} panel
 * @param {{name: string, key: string, action: () => void, disabled: boolean, pressed?: boolean}} options
 */
function makeButton(panel, { name, key, action, disabled, pressed }) {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet", disabled });
  button.append(name);
  if (key) button.append(" ", Object.assign(document.createElement("kbd"), { textContent: KEY_SIGNS[key] ?? key }));
  if (pressed !== undefined) button.setAttribute("aria-pressed", String(pressed));
  button.addEventListener("click", () => {
    const index = [...panel.querySelectorAll("button")].indexOf(button);
    action();
    // the rows are written again: the focus stays where it was, or goes to the next button that can be pressed
    const now = panel.querySelectorAll("button")[index];
    const next = now.disabled ? now.parentElement?.querySelector("button:enabled") : now;
    /** @type {HTMLElement | null | undefined} */ (next)?.focus();
  });
  return button;
}
