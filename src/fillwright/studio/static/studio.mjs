// Keys that lead through the rooms. A key does nothing while something is being typed.

const typing = (target) => target.closest("input, textarea, select, [contenteditable]") !== null;

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || typing(event.target)) return;
  const target = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (!target) return;
  event.preventDefault();
  target.click();
});
