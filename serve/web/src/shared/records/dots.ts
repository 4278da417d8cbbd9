// How large dots are: so small that they do not touch, and where even that is not enough, some
// of a record's dots give way, and their line is what is seen.
import { type Box, GridIndex } from "./boxes";

/** The radii of a dot's color, in pixels, largest first, and the width of its edge. */
const dotRadii = [8, 6, 4.5, 3.5];
export const dotEdge = 1.5;

const largest = dotRadii[0] as number;
const smallest = dotRadii[dotRadii.length - 1] as number;

/** A reading on the screen, in pixels. */
interface Spot {
  x: number;
  y: number;
  /** dots give way to those of the same record only */
  record: number;
  /** drawn wherever it is */
  always?: boolean;
}

/** How far apart dots must be that do not touch, edges and a pixel between them included. */
const apart = (radius: number): number => 2 * (radius + dotEdge) + 1;

/** How a dot is drawn. */
interface DotSize {
  /** 0 for one that gives way */
  radius: number;
  /** whether others gave way to it */
  several: boolean;
  /** how far the nearest of its record is, Infinity from `looked` on */
  spacing: number;
}

/** Dots of a record nearer to each other than this, in pixels, are dense: they are small, and what is between them would run together. */
export const denseWithin = 16;
/** How far the nearest one is looked for, in pixels. */
const looked = 32;

/** The size of each dot. Dots at the very same place are as one. */
export function sizesOf(spots: Spot[]): DotSize[] {
  const room = apart(smallest);
  const kept = new GridIndex<Spot>();
  const several = new Set<Spot>();
  const stays = spots.map((s) => {
    let gives = false;
    if (!s.always) {
      kept.some(square(s, room), (k) => {
        if (k.record !== s.record || !isNear(k, s, room)) return false;
        several.add(k);
        return (gives = true);
      });
    }
    if (!gives) kept.add(s, square(s, 0));
    return !gives;
  });
  return spots.map((s, i) => {
    if (!stays[i]) return { radius: 0, several: false, spacing: 0 };
    let nearest = apart(largest);
    let spacing = several.has(s) ? 0 : Infinity;
    kept.some(square(s, looked), (k) => {
      const d = Math.hypot(k.x - s.x, k.y - s.y);
      if (d > same) nearest = Math.min(nearest, d);
      if (d > same && d < looked && k.record === s.record) spacing = Math.min(spacing, d);
      return false;
    });
    return { radius: dotRadii.find((r) => apart(r) <= nearest + 1e-9) ?? smallest, several: several.has(s), spacing };
  });
}

/** Places nearer to each other than this are the same, in pixels. */
const same = 1e-3;

function isNear(a: Spot, b: Spot, room: number): boolean {
  const d = Math.hypot(a.x - b.x, a.y - b.y);
  return d > same && d < room;
}

const square = ({ x, y }: Spot, half: number): Box => [x - half, y - half, x + half, y + half];
