// The music as svg elements, for the screen and for paper.

/** Write a drawing as an svg element. @param {import("./types.d.ts").Drawing} drawing */
export function drawSvg({ width, height, body }) {
  return `<svg viewBox="0 0 ${width} ${height}" aria-hidden="true">${body}</svg>`;
}

/** Write a fill as it is printed among others. @param {import("./types.d.ts").PageFill} fill */
export function drawForPaper(fill) {
  const words = document.createElement("p");
  words.textContent = `${fill.figure}: ${fill.caption}`;
  return (
    `<section class="fill-on-paper"><p class="number">${fill.number}</p>` +
    `<div>${words.outerHTML}${drawSvg(fill.wide)}<p>Tempos: ${fill.ladder.join(", ")} bpm</p></div></section>`
  );
}
