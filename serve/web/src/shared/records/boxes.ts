// What marks cover on the screen, in pixels, y down: boxes, and dots with a radius.

type Side = "right" | "left" | "above" | "below";

/** A place on the screen with a dot of a radius. */
export interface Dot {
  x: number;
  y: number;
  radius: number;
  /** whether it is no dot but another mark: it hides no label of a dot under it */
  other?: boolean;
  /** whether it is no dot of a record, but what a crew added: like a dot nothing may cover it, nor be led to it */
  added?: boolean;
}

export type Box = [left: number, top: number, right: number, bottom: number];

/** A label beside its dot: its upper left corner from the middle of the dot, and whether a line leads to it because it does not touch the dot. */
export interface Label {
  left: number;
  top: number;
  led: boolean;
}

/** The height of a label, and the gap from the edge of its dot to it, in pixels: they touch. */
export const labelHeight = 26;
const labelGap = 0.5;

export const sides: Side[] = ["right", "left", "above", "below"];

/** The box of a dot's label on a side. */
export function labelBox({ x, y, radius }: Dot, width: number, side: Side): Box {
  const half = labelHeight / 2;
  const gap = radius + labelGap;
  switch (side) {
    case "right": return [x + gap, y - half, x + gap + width, y + half];
    case "left": return [x - gap - width, y - half, x - gap, y + half];
    case "above": return [x - width / 2, y - gap - labelHeight, x + width / 2, y - gap];
    case "below": return [x - width / 2, y + gap, x + width / 2, y + gap + labelHeight];
  }
}

/** A label on a side of its dot. */
export function besideDot(dot: Dot, width: number, side: Side): Label {
  const [left, top] = labelBox(dot, width, side);
  return { left: left - dot.x, top: top - dot.y, led: false };
}

/** The box of a label of a width, of a dot at a place. */
export const boxOf = ({ left, top }: Label, width: number, { x, y }: { x: number; y: number }): Box => [x + left, y + top, x + left + width, y + top + labelHeight];

export const around = ({ x, y, radius }: Dot): Box => [x - radius, y - radius, x + radius, y + radius];

export const grown = ([left, top, right, bottom]: Box, by: number): Box => [left - by, top - by, right + by, bottom + by];

/** How far a place is from a box, 0 within it. */
export const awayFrom = ([left, top, right, bottom]: Box, { x, y }: { x: number; y: number }): number =>
  Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom));

export const coversDot = (box: Box, dot: Dot): boolean => awayFrom(box, dot) < dot.radius;

export const isSame = (a: Box, b: Box): boolean => a.every((v, i) => Math.abs(v - (b[i] ?? NaN)) < 1e-6);

export const overlap = (a: Box, b: Box): boolean => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

/** A grid index, so that only neighbors are compared. */
export class GridIndex<T> {
  private readonly cells = new Map<number, T[]>();

  add(thing: T, box: Box): void {
    this.each(box, (key) => {
      const cell = this.cells.get(key);
      if (cell) cell.push(thing);
      else this.cells.set(key, [thing]);
      return false;
    });
  }

  some(box: Box, test: (thing: T) => boolean): boolean {
    return this.each(box, (key) => this.cells.get(key)?.some(test) ?? false);
  }

  // Visits the cells of a box until `stop`. Distant cells may share a key, which only costs a few more comparisons.
  private each([left, top, right, bottom]: Box, stop: (key: number) => boolean): boolean {
    for (let x = Math.floor(left / cellSize); x <= right / cellSize; x++) {
      for (let y = Math.floor(top / cellSize); y <= bottom / cellSize; y++) {
        if (stop(((x & 0x7fff) << 15) | (y & 0x7fff))) return true;
      }
    }
    return false;
  }
}

const cellSize = 64;
