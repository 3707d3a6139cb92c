// Keys that lead through the rooms. A key does nothing while something is being typed, and none where they are
// turned off: who speaks to the machine, or touches keys unawares, turns them off on the list of keys.

const KEPT = "fillwright/keys";
const FIELDS = "input:not([type=checkbox], [type=radio]), select, textarea, audio, [contenteditable]";
const PRESSED = "button, summary, input";

/** Whether keys are to be left alone: typed into a field, held with another, or turned off. */
export function leftAlone(event) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.defaultPrevented) return true;
  if (event.target.closest?.(FIELDS)) return true;
  return !keysWork();
}

function keysWork() {
  try {
    return localStorage.getItem(KEPT) !== "off";
  } catch {
    return true;
  }
}

document.addEventListener("keydown", (event) => {
  if (leftAlone(event)) return;
  if (event.key === " " && event.target.closest(PRESSED)) return; // it presses what has the focus
  const target = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (!target || target.disabled || target.closest("[hidden]")) return;
  event.preventDefault();
  target.click();
});

const choice = document.getElementById("keys-work");
if (choice) {
  choice.checked = keysWork();
  choice.closest("label").classList.remove("unready");
  choice.addEventListener("change", () => localStorage.setItem(KEPT, choice.checked ? "on" : "off"));
}
