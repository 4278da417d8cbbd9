// On which side of its dot a depth stands, so that it covers no other dot and no other depth.

export type Side = "right" | "left" | "above" | "below";

/** A dot on the screen, in pixels, y growing downwards; `width` is that of its label, 0 for none. */
export interface LabelPoint {
  x: number;
  y: number;
  width: number;
  /** half the width of what is drawn there, where it is no dot: it is never covered, and hides no label of a dot under it */
  radius?: number;
}

type Box = [left: number, top: number, right: number, bottom: number];

/** Half the width of a dot with its casing, the height of a label, and from dot centre to label, in pixels. */
const dotRadius = 9.5;
export const labelHeight = 26;
export const labelGap = 12;

const sides: Side[] = ["right", "left", "above", "below"];

function labelBox(m: LabelPoint, side: Side): Box {
  const half = labelHeight / 2;
  switch (side) {
    case "right": return [m.x + labelGap, m.y - half, m.x + labelGap + m.width, m.y + half];
    case "left": return [m.x - labelGap - m.width, m.y - half, m.x - labelGap, m.y + half];
    case "above": return [m.x - m.width / 2, m.y - labelGap - labelHeight, m.x + m.width / 2, m.y - labelGap];
    case "below": return [m.x - m.width / 2, m.y + labelGap, m.x + m.width / 2, m.y + labelGap + labelHeight];
  }
}

/** Things sorted into squares of the screen, so that only neighbours are compared. */
class GridIndex<T> {
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

  // Goes over the squares until `stop`. The numbers of two squares far apart may
  // be the same: then a few things more are compared.
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

function pointBox({ x, y, radius = dotRadius }: LabelPoint): Box {
  return [x - radius, y - radius, x + radius, y + radius];
}

function coversPoint([left, top, right, bottom]: Box, { x, y, radius = dotRadius }: LabelPoint): boolean {
  return Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom)) < radius;
}

function overlap(a: Box, b: Box): boolean {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}

/** Whether another dot lies half over this one: then nobody could tell whose the label is. Zooming in parts them. */
function isHalfHidden(m: LabelPoint, dots: GridIndex<LabelPoint>): boolean {
  return dots.some(pointBox(m), (d) => {
    const apart = Math.hypot(d.x - m.x, d.y - m.y);
    return d.radius === undefined && apart > 0 && apart < dotRadius;
  });
}

/**
 * The side of each mark's label, in the order of the marks: the first side on
 * which it covers nothing. null for a mark without a label, and for a label
 * that finds no such side, or whose dot is half hidden: it is left out.
 */
export function placeLabels(marks: LabelPoint[]): (Side | null)[] {
  const dots = new GridIndex<LabelPoint>();
  for (const m of marks) dots.add(m, pointBox(m));
  const labels = new GridIndex<Box>();
  return marks.map((m) => {
    if (m.width === 0 || isHalfHidden(m, dots)) return null;
    for (const side of sides) {
      const box = labelBox(m, side);
      if (dots.some(box, (d) => coversPoint(box, d)) || labels.some(box, (l) => overlap(box, l))) continue;
      labels.add(box, box);
      return side;
    }
    return null;
  });
}
