// Where the cursor of a fill is drawn.

/** @typedef {import("./types.d.ts").CursorMark} CursorMark */

/** Return where a place of the phrase is, in parts of the drawing. @param {CursorMark[]} marks @param {number} place */
export function findPosition(marks, place) {
  let i = 0;
  while (i + 1 < marks.length && marks[i + 1][0] <= place) i++;
  const [t0, x0, top, height, line] = marks[i];
  const next = marks[i + 1];
  if (!next || next[4] !== line) return { x: x0, top, height };
  return { x: x0 + ((next[1] - x0) * (place - t0)) / (next[0] - t0), top, height };
}

/**
 * Put an element at a mark of a drawing.
 * @template {HTMLElement} T
 * @param {T} element
 * @param {HTMLElement} drawing
 * @param {{x: number, top: number, height: number}} mark in parts of the drawing
 */
export function putAt(element, drawing, { x, top, height }) {
  element.style.setProperty("left", `${drawing.offsetLeft + x * drawing.offsetWidth}px`);
  element.style.setProperty("top", `${drawing.offsetTop + top * drawing.offsetHeight}px`);
  element.style.setProperty("height", `${height * drawing.offsetHeight}px`);
  return element;
}
