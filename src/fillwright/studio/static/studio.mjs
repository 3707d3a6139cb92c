// Shortcuts. A key does nothing while something is being typed, and none works where they are turned off: students
// who dictate to the machine, or touch keys by accident, turn them off on the list of shortcuts.

const KEPT = "fillwright/keys"; // in the browser's storage; older pages wrote the same name
const FIELDS = "input:not([type=checkbox], [type=radio]), select, textarea, audio, [contenteditable]";
const PRESSED = "button, summary, input";

/** Return true if a key is not a shortcut: typed into a field, held with another, or turned off. @param {KeyboardEvent} event */
export function isLeftAlone(event) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.defaultPrevented) return true;
  if (targetOf(event)?.closest(FIELDS)) return true;
  return !areShortcutsOn();
}

/** @param {Event} event */
function targetOf(event) {
  return event.target instanceof Element ? event.target : null;
}

function areShortcutsOn() {
  try {
    return localStorage.getItem(KEPT) !== "off";
  } catch {
    return true;
  }
}

document.addEventListener("keydown", (event) => {
  if (isLeftAlone(event)) return;
  if (event.key === " " && targetOf(event)?.closest(PRESSED)) return; // it presses what has the focus
  const target = /** @type {HTMLButtonElement | null} */ (document.querySelector(`[data-key="${CSS.escape(event.key)}"]`));
  if (!target || target.disabled || target.closest("[hidden]")) return;
  event.preventDefault();
  target.click();
});

const choice = /** @type {HTMLInputElement | null} */ (document.getElementById("keys-work"));
if (choice) {
  choice.checked = areShortcutsOn();
  choice.closest("label")?.classList.remove("unready");
  choice.addEventListener("change", () => localStorage.setItem(KEPT, choice.checked ? "on" : "off"));
}
