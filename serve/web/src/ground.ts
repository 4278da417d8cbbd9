// Lengths, directions and areas on the WGS 84 ellipsoid, by GeographicLib.
// Places are [longitude, latitude] in degrees; results are metres and square metres.
import Geodesic from "geographiclib-geodesic";
import { say } from "./words";

export type Place = [lon: number, lat: number];

const { WGS84 } = Geodesic.Geodesic;

/** The shortest way between two places along the ground, in metres, and its direction at the start in degrees from north. */
export function way(from: Place, to: Place): { metres: number; azimuth: number } {
  const r = WGS84.Inverse(from[1], from[0], to[1], to[0]);
  return { metres: r.s12 ?? 0, azimuth: ((r.azi1 ?? 0) + 360) % 360 };
}

/** The length of a path, in metres. */
export function pathLength(path: Place[]): number {
  return path.slice(1).reduce((sum, p, i) => sum + way(path[i] as Place, p).metres, 0);
}

/** The area and the length of the edge of an outline, closed from its last place to its first. */
export function outline(ring: Place[]): { area: number; edge: number } {
  const p = WGS84.Polygon(false);
  for (const [lon, lat] of ring) p.AddPoint(lat, lon);
  const r = p.Compute(false, true);
  return { area: Math.abs(r.area ?? 0), edge: r.perimeter };
}

/** Whether an outline crosses itself; over the size of a job, straight in degrees is straight enough. */
export function crossesItself(ring: Place[]): boolean {
  const side = (a: Place, b: Place, c: Place) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const edges = ring.map((p, i): [Place, Place] => [p, ring[(i + 1) % ring.length] as Place]);
  return edges.some(([a, b], i) => edges.some(([c, d], j) => {
    if (j <= i + 1 || (i === 0 && j === edges.length - 1)) return false; // the same one, or a neighbour
    return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
  }));
}

const winds = [
  say("compass.n"), say("compass.ne"), say("compass.e"), say("compass.se"), say("compass.s"), say("compass.sw"), say("compass.w"), say("compass.nw"),
];

/** The nearest of eight directions: "northeast". */
export function windOf(azimuth: number): string {
  return winds[Math.round((((azimuth % 360) + 360) % 360) / 45) % 8] ?? "";
}
