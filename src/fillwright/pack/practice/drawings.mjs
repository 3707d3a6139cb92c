// Music as the page holds it, made into pictures.

/** A drawing as an svg element. */
export function svgOf({ width, height, body }) {
  return `<svg viewBox="0 0 ${width} ${height}" aria-hidden="true">${body}</svg>`;
}

/** A fill as it stands on paper among others. */
export function onPaper(fill) {
  const words = document.createElement("p");
  words.textContent = `${fill.figure}: ${fill.caption}`;
  return (
    `<section class="fill-on-paper"><p class="number">${fill.number}</p>` +
    `<div>${words.outerHTML}${svgOf(fill.wide)}<p>Tempos ${fill.ladder.join(", ")}</p></div></section>`
  );
}
