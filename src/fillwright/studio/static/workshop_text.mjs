// A fill as the workshop's fields write it: sticking, drums, rhythm.

/** @typedef {import("./types.d.ts").WrittenStroke} WrittenStroke */
/** @typedef {import("./types.d.ts").WrittenFill} WrittenFill */

/** @type {[string, {graces: number, buzz: boolean}][]} */
export const KINDS = [
  ["Single", { graces: 0, buzz: false }],
  ["Flam", { graces: 1, buzz: false }],
  ["Drag", { graces: 2, buzz: false }],
  ["Buzz", { graces: 0, buzz: true }],
];
const STROKE = /^(\()?([rl]*)([RL])([>z]*)(\))?$/;

/**
 * Read a fill from the texts of the fields; a null slot is a rest.
 * @param {{sticking: string, on: string}} texts
 * @returns {WrittenFill}
 */
export function readFill({ sticking, on }) {
  const drums = on.split(",").map((name) => name.trim());
  /** @type {WrittenStroke[]} */
  const strokes = [];
  const slots = sticking.replace(/[,|]/g, " ").split(/\s+/).filter(Boolean).map((word) => {
    const match = STROKE.exec(word);
    if (!match) return null;
    const stroke = {
      hand: match[3],
      graces: match[2].length,
      accent: match[4].includes(">"),
      buzz: match[4].includes("z"),
      ghost: Boolean(match[1]),
      on: drums.length === 1 ? drums[0] : drums[strokes.length],
    };
    strokes.push(stroke);
    return stroke;
  });
  return { strokes, slots };
}

/** Write a fill as the fields have it. @param {WrittenFill} fill @param {string} rhythm */
export function writeFill(fill, rhythm) {
  return {
    sticking: fill.slots.map(writeStroke).join(" "),
    on: fill.strokes.map((stroke) => stroke.on).join(", "),
    rhythm,
  };
}

/** Write one stroke, or a rest. @param {WrittenStroke | null} stroke */
function writeStroke(stroke) {
  if (!stroke) return "-";
  const graces = otherHand(stroke.hand).toLowerCase().repeat(stroke.graces);
  const plain = `${graces}${stroke.hand}${stroke.buzz ? "z" : ""}${stroke.accent ? ">" : ""}`;
  return stroke.ghost ? `(${plain})` : plain;
}

/** @param {string} hand */
export function otherHand(hand) {
  return hand === "R" ? "L" : "R";
}

/** Return the index of a stroke's kind among `KINDS`. @param {WrittenStroke} stroke */
export function kindOf(stroke) {
  return stroke.buzz ? 3 : stroke.graces;
}

/** Return the drum or cymbal of a stroke, without that of its grace notes. @param {WrittenStroke} stroke */
export function drumOf(stroke) {
  return stroke.on.split(" with ")[0];
}

/** Move a stroke to another drum or cymbal; its grace notes stay. @param {WrittenStroke} stroke @param {string} name */
export function moveTo(stroke, name) {
  const graces = stroke.graces ? stroke.on.split(" with ")[1] : undefined;
  stroke.on = graces && graces !== name ? `${name} with ${graces}` : name;
}

/** Set the dynamics of a stroke. @param {WrittenStroke} stroke @param {"accent" | "tap" | "ghost"} name */
export function setDynamics(stroke, name) {
  stroke.accent = name === "accent";
  stroke.ghost = name === "ghost";
}

/** Turn a stroke into the next kind; its grace notes move to its drum. @param {WrittenStroke} stroke */
export function nextKind(stroke) {
  Object.assign(stroke, KINDS[(kindOf(stroke) + 1) % KINDS.length][1]);
  moveTo(stroke, drumOf(stroke));
}
