// Places marks with text where they cover no dot and no other mark: numbers of crossings first,
// then depths, flags, and the letters along lines.

type Side = "right" | "left" | "above" | "below";

/** A place on the screen, in pixels, y down, with a dot of a radius. */
export interface Dot {
  x: number;
  y: number;
  radius: number;
  /** whether it is no dot but another mark: it hides no label of a dot under it */
  other?: boolean;
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

const around = ({ x, y, radius }: Dot): Box => [x - radius, y - radius, x + radius, y + radius];

function coversDot([left, top, right, bottom]: Box, { x, y, radius }: Dot): boolean {
  return Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom)) < radius;
}

const isSame = (a: Box, b: Box): boolean => a.every((v, i) => Math.abs(v - (b[i] ?? NaN)) < 1e-6);

export const overlap = (a: Box, b: Box): boolean => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

/** All that is placed at one resolution. */
export class Placement {
  private readonly dots = new GridIndex<Dot>();
  private readonly taken = new GridIndex<Box>();

  addDot(dot: Dot): void {
    this.dots.add(dot, around(dot));
  }

  /** Whether a box covers no dot and no mark but the one that has taken the box `own`. */
  isFree(box: Box, own?: Box): boolean {
    return !this.dots.some(box, (d) => coversDot(box, d)) && !this.taken.some(box, (b) => overlap(box, b) && !(own && isSame(b, own)));
  }

  /** Takes a box if it is free. */
  take(box: Box): boolean {
    if (!this.isFree(box)) return false;
    this.taken.add(box, box);
    return true;
  }

  /** Takes a circle if no other such mark is under it; dots may be. */
  takeCircle(x: number, y: number, radius: number): boolean {
    const dot: Dot = { x, y, radius, other: true };
    if (this.dots.some(around(dot), (d) => d.other === true && Math.hypot(d.x - x, d.y - y) < d.radius + radius)) return false;
    this.addDot(dot);
    return true;
  }

  /**
   * The label of a dot: on the side on which it covers no dot and no mark, and costs least; `costsOf`
   * is asked for all sides in their order, of which an earlier one is better at the same cost, and an
   * infinite cost rules a side out. null where the label is hidden: no such side, or its dot is half
   * under another. Zooming in separates them.
   */
  label(dot: Dot, width: number, costsOf?: (boxes: Box[]) => number[]): Label | null {
    const halfHidden = this.dots.some(around(dot), (d) => {
      const apart = Math.hypot(d.x - dot.x, d.y - dot.y);
      return !d.other && apart > 0 && apart < dot.radius;
    });
    if (halfHidden) return null;
    const boxes = sides.map((side) => labelBox(dot, width, side));
    const costs = costsOf?.(boxes) ?? [];
    const order = sides.map((side, i) => ({ side, box: boxes[i] as Box, cost: i + (costs[i] ?? 0) })).filter((c) => c.cost < Infinity).sort((a, b) => a.cost - b.cost);
    const best = order.find(({ box }) => this.take(box));
    return best ? besideDot(dot, width, best.side) : null;
  }
}
