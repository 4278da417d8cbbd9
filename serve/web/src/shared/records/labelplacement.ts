// Places each depth label on a side of its dot where it covers no other dot and no other label.

export type Side = "right" | "left" | "above" | "below";

/** A dot on the screen, in pixels, y down; `width` is the width of its label, 0 for none. */
export interface LabelPoint {
  x: number;
  y: number;
  width: number;
  /** half the width of another mark than a dot: labels never cover it, and it does not hide the label of a dot under it */
  radius?: number;
}

type Box = [left: number, top: number, right: number, bottom: number];

/** Half the width of a dot with its casing, the height of a label, and the gap from the center of a dot to its label, in pixels. */
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

/** A grid index, so that only neighbors are compared. */
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

function pointBox({ x, y, radius = dotRadius }: LabelPoint): Box {
  return [x - radius, y - radius, x + radius, y + radius];
}

function coversPoint([left, top, right, bottom]: Box, { x, y, radius = dotRadius }: LabelPoint): boolean {
  return Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom)) < radius;
}

const overlap = (a: Box, b: Box): boolean => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

/** Whether another dot hides half of this one, so that a label would be ambiguous. Zooming in separates them. */
function isHalfHidden(m: LabelPoint, dots: GridIndex<LabelPoint>): boolean {
  return dots.some(pointBox(m), (d) => {
    const apart = Math.hypot(d.x - m.x, d.y - m.y);
    return d.radius === undefined && apart > 0 && apart < dotRadius;
  });
}

/**
 * The side of each point's label: the first on which it covers nothing. null for a point without
 * a label, and for a label that is hidden: no such side, or its dot is half hidden.
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
