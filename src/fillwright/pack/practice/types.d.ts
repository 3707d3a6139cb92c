// The types that the scripts of the practice page and of the studio share. Only the type checker reads this file.

/** [at, length, limb, sound, velocity, graces, grace sound, grace velocity, bounce sound], cut off after its last use.
 * Places and lengths are in whole notes, limbs 0 and 1 are the right and the left hand, sounds are indices. */
export type StrokeRow = number[];

/** The cursor's way along one line of music: points are moment, x, moment, x ... */
export interface MusicLine {
  top: number;
  bottom: number;
  points: number[];
}

export interface Drawing {
  width: number;
  height: number;
  body: string;
  lines: MusicLine[];
}

/** A phrase with its fill as the player needs it; all places in whole notes from the start of the phrase. */
export interface PlayedFill {
  bar: number;
  unit: number;
  beats: number[];
  counted: number[];
  body: number;
  landing: number;
  strokes: StrokeRow[];
  first: StrokeRow[];
  again: StrokeRow[];
  span: number[];
}

/** A fill of the practice page. */
export interface PageFill extends PlayedFill {
  number: number;
  slug: string;
  figure: string;
  caption: string;
  rhythm: string;
  sticking: string;
  grade: string;
  ceiling: string;
  hint: string;
  groove: string;
  ladder: number[];
  plan: string;
  wide: Drawing;
  narrow: Drawing;
}

/** Seconds and shares of a buzz's bounces. */
export interface BounceRules {
  first: number;
  last: number;
  shrinks: number;
  starts: number;
  ends: number;
  longest: number;
}

/** How strokes sound. */
export interface Rules {
  names: string[];
  flamMs: number;
  spacings: Record<number, number[]>;
  bounce: BounceRules;
  chokes: Record<string, string[]>;
  chokeSeconds: number;
}

/** Where each sound is in a recording, in samples: layers are [velocity, [[from, length]]]. */
export interface PackedSounds {
  rate: number;
  pulse: number;
  sounds: Record<string, { power: number; layers: [number, [number, number][]][] }>;
}

/** What gives the player a one-shot for a stroke. */
export interface SoundSource {
  pick(name: string, velocity: number, count: number): { buffer: AudioBuffer; level: number };
}

export interface PageData {
  id: string;
  fills: Omit<PageFill, "again">[];
  rules: Rules;
  packed: PackedSounds;
}

/** What the page keeps on this device. Old pages wrote the same keys: never rename one. */
export interface KeptState {
  at: string;
  tempos: Record<string, number>;
  reached: Record<string, number[]>;
  loop: boolean;
  silent: boolean;
  click: number;
  count: number;
  day: string;
  seconds: number;
}

/** Something to play at a place: a click or a stroke; neither marks the end of a repetition. */
export interface Item {
  at: number;
  click?: string;
  level?: number;
  counted?: boolean;
  row?: StrokeRow;
}
