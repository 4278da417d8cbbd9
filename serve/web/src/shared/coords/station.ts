// Station and offset of a point along a line: how far along it, and how far to its left or right.
// Positions are [longitude, latitude] on WGS 84, lengths are meters along the ground.
import { direct, inverse, type LonLat } from "./geodesic";

/** A place on a line that is nearest to a point, compared with its neighborhood. */
interface Foot {
  /** along the line from its start; below 0 before it, above its length beyond its end */
  station: number;
  /** across the line, to the right of its direction; below 0 to the left */
  offset: number;
  at: LonLat;
  /** a bend is outside a corner, where nothing is square to the line; before and beyond are past its ends */
  where: "beside" | "bend" | "before" | "beyond";
  /** from the point to the line itself, not to its continuation */
  distance: number;
}

/** Edges are straight in degrees (RFC 7946, 3.1.1); as long as this, a geodesic differs by less than a millimeter. */
const longestPiece = 100;

interface Edge {
  from: LonLat;
  bearing: number;
  length: number;
  /** along the line where the edge starts */
  start: number;
}

function edgesOf(path: LonLat[]): Edge[] {
  const edges: Edge[] = [];
  let start = 0;
  path.slice(1).forEach((to, i) => {
    const from = path[i] as LonLat;
    const pieces = Math.max(1, Math.ceil(inverse(from, to).metres / longestPiece));
    const at = (k: number): LonLat => [from[0] + (to[0] - from[0]) * (k / pieces), from[1] + (to[1] - from[1]) * (k / pieces)];
    for (let k = 0; k < pieces; k++) {
      const { metres, bearing } = inverse(at(k), at(k + 1));
      if (metres === 0) continue;
      edges.push({ from: at(k), bearing, length: metres, start });
      start += metres;
    }
  });
  return edges;
}

/** The length of a line whose edges are straight in degrees. */
export const lineLength = (path: LonLat[]): number => edgesOf(path).reduce((sum, e) => sum + e.length, 0);

/** Where an edge, or its continuation, is nearest to a point, and how far to the right of it the point is. */
function footOnEdge(edge: Edge, point: LonLat): { along: number; right: number; at: LonLat } {
  let along = 0;
  let right = 0;
  // Each step leaves an error of a higher order: C. F. F. Karney, Algorithms for geodesics, 2013, section 8.
  for (let i = 0; i < 3; i++) {
    const here = direct(edge.from, edge.bearing, along);
    const to = inverse(here.at, point);
    const turned = (to.bearing - here.bearing) * (Math.PI / 180);
    along += to.metres * Math.cos(turned);
    right = to.metres * Math.sin(turned);
  }
  return { along, right, at: direct(edge.from, edge.bearing, along).at };
}

/** All places on a line that are nearest to a point in their neighborhood, the nearest of all first. */
export function feetOn(path: LonLat[], point: LonLat): Foot[] {
  const edges = edgesOf(path);
  const found: Foot[] = [];
  let over: { right: number } | null = null; // the edge before, where the point lies past its end
  edges.forEach((edge, i) => {
    const { along, right, at } = footOnEdge(edge, point);
    const station = edge.start + along;
    const corner = inverse(edge.from, point).metres;
    if (along < 0 && i === 0) found.push({ station, offset: right, at, where: "before", distance: corner });
    if (along < 0 && over !== null) {
      const before = edges[i - 1] as Edge;
      // On the outside of a bend the line turns away from the point.
      const turn = Math.sin((edge.bearing - direct(before.from, before.bearing, before.length).bearing) * (Math.PI / 180));
      const side = Math.abs(turn) > 1e-9 ? -Math.sign(turn) : Math.sign(over.right) || 1;
      // Between two pieces of one edge nothing bends.
      const where = Math.abs(turn) < 1e-3 ? "beside" : "bend";
      found.push({ station: edge.start, offset: side * corner, at: edge.from, where, distance: corner });
    }
    if (along >= 0 && along <= edge.length) found.push({ station, offset: right, at, where: "beside", distance: Math.abs(right) });
    over = along > edge.length ? { right } : null;
    if (over !== null && i === edges.length - 1) {
      found.push({ station, offset: right, at, where: "beyond", distance: inverse(direct(edge.from, edge.bearing, edge.length).at, point).metres });
    }
  });
  return found.sort((a, b) => a.distance - b.distance);
}
