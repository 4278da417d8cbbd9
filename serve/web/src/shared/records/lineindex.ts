// Where lines run, so that a label covers its own utility's line rather than another's.
import type { FeatureLike } from "ol/Feature";
import type { Geometry } from "ol/geom";
import RBush from "ol/structs/RBush";
import type { Box } from "./boxes";
import { type Path, pathsOf } from "./path";

/** A line with whose it is. */
export type OwnedLine = [feature: FeatureLike, utility: string];

/** Some segments of a line. */
interface Stretch {
  path: Path;
  from: number;
  to: number;
  utility: string;
}

/** How many segments are found together, and how many are indexed at the most. */
const together = 16;
const most = 200_000;

export class LineIndex {
  private readonly tree = new RBush<Stretch>();

  constructor(lines: OwnedLine[]) {
    const stretches: Stretch[] = [];
    for (const [feature, utility] of lines) {
      for (const path of pathsOf(feature.getGeometry() as Geometry)) {
        for (let from = 0; from + 1 < path.x.length && stretches.length * together < most; from += together) {
          stretches.push({ path, from, to: Math.min(path.x.length - 1, from + together), utility });
        }
      }
    }
    this.tree.load(stretches.map(({ path, from, to }) => {
      const [x, y] = [path.x.subarray(from, to + 1), path.y.subarray(from, to + 1)];
      return [Math.min(...x), Math.min(...y), Math.max(...x), Math.max(...y)];
    }), stretches);
  }

  /** The utilities of the lines in each of some boxes, in projected meters, y up. */
  utilitiesIn(boxes: Box[]): Set<string>[] {
    const found = boxes.map(() => new Set<string>());
    const all = [0, 1, 2, 3].map((k) => (k < 2 ? Math.min : Math.max)(...boxes.map((b) => b[k] as number)));
    for (const { path, from, to, utility } of this.tree.getInExtent(all)) {
      for (let i = from; i < to; i++) {
        boxes.forEach((box, k) => {
          if (!found[k]?.has(utility) && crosses(box, path, i)) found[k]?.add(utility);
        });
      }
    }
    return found;
  }
}

/** Whether a segment of a path lies in a box, or crosses it. */
function crosses([left, bottom, right, top]: Box, { x, y }: Path, i: number): boolean {
  const [px, py, qx, qy] = [x[i] as number, y[i] as number, x[i + 1] as number, y[i + 1] as number];
  let [t, u] = [0, 1];
  for (const [p, d, low, high] of [[px, qx - px, left, right], [py, qy - py, bottom, top]] as const) {
    if (d === 0) {
      if (p < low || p > high) return false;
      continue;
    }
    const [a, b] = d > 0 ? [(low - p) / d, (high - p) / d] : [(high - p) / d, (low - p) / d];
    [t, u] = [Math.max(t, a), Math.min(u, b)];
  }
  return t <= u;
}
