// Loop, the silent fill, click and count-in: shown as they are set.

import { byId, inputById } from "./elements.mjs";

/** @type {[string, number][]} words and loudness; ours, not measured */
export const CLICKS = [["off", 0], ["soft", 0.5], ["even", 1], ["strong", 2], ["loud", 4]];
export const COUNTS = ["none", "1 bar", "2 bars"];

/** @typedef {{loop: boolean, silent: boolean, click: number, count: number}} Switches */

/** Show the switches as they are set. @param {Switches} state */
export function showSwitches(state) {
  inputById("loop").checked = state.loop;
  inputById("silent").checked = state.silent;
  showLevel("click", state.click, CLICKS[state.click][0]);
  showLevel("count", state.count, COUNTS[state.count]);
}

/** @param {string} id @param {number} value @param {string} word */
function showLevel(id, value, word) {
  inputById(id).value = String(value);
  byId(id).setAttribute("aria-valuetext", word);
  byId(`${id}-word`).textContent = word;
}

/** Call back with every change that is made by hand. @param {(changes: Partial<Switches>) => void} change */
export function listenToSwitches(change) {
  for (const name of ["loop", "silent"]) {
    byId(name).addEventListener("change", () => change({ [name]: inputById(name).checked }));
  }
  for (const name of ["click", "count"]) {
    byId(name).addEventListener("input", () => change({ [name]: Number(inputById(name).value) }));
  }
}
