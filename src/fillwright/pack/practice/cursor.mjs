// The cursor: a thin line with a dot like the tip of a stick, that goes through the notes with the sound.

/** Where a place of the phrase stands: the line of music, and how far along it. */
export function standing(lines, place) {
  let line = lines[0];
  for (const each of lines) if (each.points[0] <= place) line = each;
  const points = line.points;
  let i = 0;
  while (i + 4 < points.length && points[i + 2] <= place) i += 2;
  const [t0, x0, t1, x1] = points.slice(i, i + 4);
  const part = Math.min(1, Math.max(0, (place - t0) / (t1 - t0)));
  return { line, x: x0 + part * (x1 - x0) };
}

/** The place of the last beat: where the cursor rests when it must not glide. */
export function onBeat(fill, place) {
  const bar = Math.floor(place / fill.bar + 1e-9) * fill.bar;
  const beats = fill.beats.filter((beat) => bar + beat <= place + 1e-9);
  return bar + beats[beats.length - 1];
}

/** Draws the cursor into a drawing. */
export class Cursor {
  constructor(svg, lines) {
    this.lines = lines;
    const make = (name) => svg.ownerDocument.createElementNS("http://www.w3.org/2000/svg", name);
    this.group = make("g");
    this.group.setAttribute("class", "cursor");
    this.stick = make("line");
    this.tip = make("circle");
    this.tip.setAttribute("r", "15");
    this.group.append(this.stick, this.tip);
    svg.append(this.group);
    this.hide();
  }

  show(place) {
    const { line, x } = standing(this.lines, place);
    if (line !== this.line) {
      this.line = line;
      this.stick.setAttribute("y1", line.top);
      this.stick.setAttribute("y2", line.bottom);
      this.tip.setAttribute("cy", line.top);
    }
    this.group.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
    this.group.removeAttribute("visibility");
  }

  hide() {
    this.group.setAttribute("visibility", "hidden");
  }
}
