// A fill as the page's data has it, completed for the player.

/**
 * Return a fill with the strokes of every repetition after the first: its first beat has the landing in it.
 * @template {Omit<import("./types.d.ts").PlayedFill, "again">} T
 * @param {T} fill
 * @returns {T & {again: import("./types.d.ts").StrokeRow[]}}
 */
export function completeFill(fill) {
  const later = fill.strokes.slice(0, fill.landing).filter((row) => row[0] > 0);
  return { ...fill, again: [...fill.first, ...later] };
}
