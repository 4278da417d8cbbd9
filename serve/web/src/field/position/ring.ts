// The path of an error circle on the screen.
import type { Coordinate } from "ol/coordinate";
import type { Extent } from "ol/extent";

/**
 * The path of a closed ring, in pixels from its center; "" where nothing of it is near the screen.
 * `near` bounds what is drawn, because a circle may be a thousand screens wide.
 */
export function ringPath(ring: Coordinate[], resolution: number, near: Extent): string {
  const points = ring.map(([x = 0, y = 0]): Coordinate => [x / resolution, -y / resolution]);
  let path = "";
  let last = -1;
  for (let i = 1; i < points.length; i++) {
    const [from, to] = [points[i - 1] as Coordinate, points[i] as Coordinate];
    if (!touches(from, to, near)) continue;
    path += last === i - 1 ? `L${text(to)}` : `M${text(from)}L${text(to)}`;
    last = i;
  }
  return path;
}

const text = ([x = 0, y = 0]: Coordinate): string => `${x.toFixed(1)} ${y.toFixed(1)}`;

/** Whether the box round an edge meets a box. */
function touches([x = 0, y = 0]: Coordinate, [u = 0, v = 0]: Coordinate, [left, top, right, bottom]: Extent): boolean {
  return Math.min(x, u) <= (right ?? 0) && Math.max(x, u) >= (left ?? 0) && Math.min(y, v) <= (bottom ?? 0) && Math.max(y, v) >= (top ?? 0);
}
