// What the studio's scripts share. Only the type checker reads this file.

import type { PlayedFill, Rules } from "/sound/types.d.ts";

/** The cursor's path: [place, x, top, height, line] in parts of the drawing. */
export type CursorMark = [number, number, number, number, number];

/** A fill as the studio hands it out, before it is completed for the player. */
export interface SentFill extends Omit<PlayedFill, "again"> {
  flamMs: number;
  way: { wide: CursorMark[]; narrow: CursorMark[] };
}

export type StudioFill = SentFill & { again: number[][] };

/** The table of the teacher's sounds: layers are [velocity, number], by name. */
export interface KitTable {
  digest: string;
  rules: Omit<Rules, "flamMs">;
  layers: Record<string, [number, number][]>;
}

/** A stroke of the workshop as its fields write it. */
export interface WrittenStroke {
  hand: string;
  graces: number;
  accent: boolean;
  buzz: boolean;
  ghost: boolean;
  on: string;
}

export interface WrittenFill {
  strokes: WrittenStroke[];
  slots: (WrittenStroke | null)[];
}

export interface WorkshopTexts {
  sticking: string;
  on: string;
  rhythm: string;
}

/** Where a stroke is in its drawing: left, top and height in parts of it. */
export type StrokeMark = [number, number, number];

/** What the studio reports of a fill that was tried. */
export interface TriedFill extends WorkshopTexts {
  marks: Partial<Record<"wide" | "narrow", StrokeMark[]>>;
  surfaces: string[];
  tight: { stroke?: number; words: string }[];
  play: SentFill;
  plan: string;
  grade: number;
  ceiling: number | null;
  reason: string;
  wide?: string;
  narrow?: string;
  wrong?: string;
}

declare global {
  const currentTime: number;
  function registerProcessor(name: string, processor: unknown): void;
  class AudioWorkletProcessor {
    readonly port: MessagePort;
  }
}
