// Shortcuts and buttons.

import { byId } from "./elements.mjs";

/** @typedef {Record<string, () => void>} Actions by the key or the id that calls them */

/** Call actions by the keys of the keyboard. @param {Actions} actions */
export function listenToKeys(actions) {
  addEventListener("keydown", (event) => {
    const on = /** @type {HTMLInputElement} */ (event.target);
    if (event.ctrlKey || event.metaKey || event.altKey || usesKey(on, event.key)) return;
    const action = actions[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!action) return;
    event.preventDefault();
    if (!event.repeat || event.key.startsWith("Arrow")) action();
  });
}

/** Return true if an element needs a key for itself. @param {HTMLInputElement} on @param {string} key */
export function usesKey(on, key) {
  if (on.type === "range") return key.startsWith("Arrow");
  return key === " " && (on.type === "checkbox" || (on.tagName === "BUTTON" && on.id !== "play"));
}

/**
 * Call actions by the ids of their buttons. A button that is pressed by hand lets go of the keyboard, so that space
 * plays and arrows change fill and tempo; tabbing goes on from there.
 * @param {Actions} actions
 */
export function listenToButtons(actions) {
  for (const [id, action] of Object.entries(actions)) byId(id).addEventListener("click", action);
  addEventListener("click", (event) => {
    const pressed = /** @type {HTMLElement} */ (event.target).closest("button:not(.about), input");
    if (event.detail > 0) /** @type {HTMLElement | null} */ (pressed)?.blur();
  });
  addEventListener("pointerup", (event) => {
    const on = /** @type {HTMLInputElement} */ (event.target);
    if (on.type === "range") on.blur();
  });
}

/** Hide an explanation on Escape, until it is pointed at or reached again. */
export function listenToTerms() {
  for (const term of document.querySelectorAll(".term")) {
    for (const name of ["pointerenter", "focusin"]) {
      term.addEventListener(name, () => term.classList.remove("closed"));
    }
  }
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const term of document.querySelectorAll(".term")) term.classList.add("closed");
  });
}
