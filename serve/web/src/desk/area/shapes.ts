// The shapes of an area as they are drawn: values that are never changed in place, so that every
// step can be taken back.
import type { LonLat } from "../../shared/coords/geodesic";

export interface Shape {
  /** what of the job it is: "area[0]", "along[1]", "drop[0]"; "" = drawn anew */
  from?: string;
  part?: number;
  kind: "polygon" | "route" | "circle" | "box";
  /** of a polygon, closed; a box has its two corners in one ring */
  rings?: LonLat[][];
  line?: LonLat[];
  /** of a route, as typed: "60ft" */
  width?: string;
  center?: LonLat;
  /** of a circle, as typed: "80ft" */
  radius?: string;
  name?: string;
}

export interface History {
  readonly now: Shape[];
  /** Makes a step; `changed` runs. */
  set(shapes: Shape[]): void;
  undo(): void;
  redo(): void;
  readonly canUndo: boolean;
  readonly canRedo: boolean;
}

/** The most steps that can be taken back. */
const mostSteps = 500;

export function makeHistory(first: Shape[], changed: () => void): History {
  let now = first;
  const [before, after]: [Shape[][], Shape[][]] = [[], []];
  const step = (from: Shape[][], to: Shape[][]) => {
    const next = from.pop();
    if (next === undefined) return;
    to.push(now);
    now = next;
    changed();
  };
  return {
    get now() {
      return now;
    },
    get canUndo() {
      return before.length > 0;
    },
    get canRedo() {
      return after.length > 0;
    },
    set(shapes) {
      before.push(now);
      if (before.length > mostSteps) before.shift();
      after.length = 0;
      now = shapes;
      changed();
    },
    undo: () => step(before, after),
    redo: () => step(after, before),
  };
}

/** The corners that a shape is drawn with, each ring or line by itself. */
export function linesOf(s: Shape): LonLat[][] {
  if (s.kind === "route") return [s.line ?? []];
  if (s.kind !== "box") return s.rings ?? [];
  const [[a, b]] = s.rings as [[LonLat, LonLat]];
  const [w, e, so, n] = [Math.min(a[0], b[0]), Math.max(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[1], b[1])];
  return [[[w, so], [e, so], [e, n], [w, n], [w, so]]];
}

/** A shape with other corners. A box that is changed is one no longer. */
export function withLines(s: Shape, lines: LonLat[][]): Shape {
  if (s.kind === "route") return { ...s, line: lines[0] ?? [] };
  return { ...s, kind: "polygon", rings: lines };
}

/** A place as it is written into a file: a hundredth of a meter is finer than anything drawn. */
export const placeOf = (at: number[]): LonLat => [round(at[0] ?? 0), round(at[1] ?? 0)];
const round = (v: number): number => Math.round(v * 1e7) / 1e7;
