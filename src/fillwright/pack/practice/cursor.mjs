// The cursor: a thin line with a dot like the tip of a stick, which goes through the notes with the sound.

/** @typedef {import("./types.d.ts").MusicLine} MusicLine */

const SVG = "http://www.w3.org/2000/svg";

/**
 * Find where a place of the phrase is drawn: the line of music, and how far along it.
 * @param {MusicLine[]} lines
 * @param {number} place
 */
export function findPosition(lines, place) {
  let line = lines[0];
  for (const candidate of lines) if (candidate.points[0] <= place) line = candidate;
  const points = line.points;
  let i = 0;
  while (i + 4 < points.length && points[i + 2] <= place) i += 2;
  const [t0, x0, t1, x1] = points.slice(i, i + 4);
  const part = Math.min(1, Math.max(0, (place - t0) / (t1 - t0)));
  return { line, x: x0 + part * (x1 - x0) };
}

/**
 * Return the place of the last beat, where the cursor rests when it must not glide.
 * @param {{bar: number, beats: number[]}} fill
 * @param {number} place
 */
export function findBeat(fill, place) {
  const bar = Math.floor(place / fill.bar + 1e-9) * fill.bar;
  const beats = fill.beats.filter((beat) => bar + beat <= place + 1e-9);
  return bar + beats[beats.length - 1];
}

/** Draws the cursor into a drawing. */
export class Cursor {
  /**
   * @param {Element} svg
   * @param {MusicLine[]} lines
   */
  constructor(svg, lines) {
    this.lines = lines;
    /** @type {MusicLine | null} */
    this.line = null;
    this.group = document.createElementNS(SVG, "g");
    this.group.setAttribute("class", "cursor");
    this.stick = document.createElementNS(SVG, "line");
    this.tip = document.createElementNS(SVG, "circle");
    this.tip.setAttribute("r", "15");
    this.group.append(this.stick, this.tip);
    svg.append(this.group);
    this.hide();
  }

  /** @param {number} place */
  show(place) {
    const { line, x } = findPosition(this.lines, place);
    if (line !== this.line) {
      this.line = line;
      this.stick.setAttribute("y1", String(line.top));
      this.stick.setAttribute("y2", String(line.bottom));
      this.tip.setAttribute("cy", String(line.top));
    }
    this.group.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
    this.group.removeAttribute("visibility");
  }

  hide() {
    this.group.setAttribute("visibility", "hidden");
  }
}
