// Distances, directions and areas on the WGS 84 ellipsoid, by GeographicLib.
// Positions are [longitude, latitude] in degrees; results are meters and square meters.
import Geodesic from "geographiclib-geodesic";
import { say } from "../lib/words";

export type LonLat = [lon: number, lat: number];

const { WGS84 } = Geodesic.Geodesic;

/** The geodesic between two positions: its length in meters, and its bearing at the start in degrees from north. */
export function inverse(from: LonLat, to: LonLat): { metres: number; bearing: number } {
  const r = WGS84.Inverse(from[1], from[0], to[1], to[0]);
  return { metres: r.s12 ?? 0, bearing: ((r.azi1 ?? 0) + 360) % 360 };
}

/** The position at a distance in meters from another, in a direction in degrees from north; and the direction there. */
export function direct([lon, lat]: LonLat, bearing: number, metres: number): { at: LonLat; bearing: number } {
  const p = WGS84.Direct(lat, lon, bearing, metres);
  return { at: [p.lon2 ?? lon, p.lat2 ?? lat], bearing: p.azi2 ?? bearing };
}

/** The closed ring of positions at a distance in meters from a center: an error circle on the ground. */
export function circleAround(center: LonLat, radius: number, corners = 72): LonLat[] {
  return Array.from({ length: corners + 1 }, (_, i) => direct(center, ((i % corners) / corners) * 360, radius).at);
}

/** The length of a path, in meters. */
export function pathLength(path: LonLat[]): number {
  return path.slice(1).reduce((sum, p, i) => sum + inverse(path[i] as LonLat, p).metres, 0);
}

/** The area and perimeter of a polygon, closed from its last position to its first. */
export function polygonMeasure(ring: LonLat[]): { area: number; perimeter: number } {
  const p = WGS84.Polygon(false);
  for (const [lon, lat] of ring) p.AddPoint(lat, lon);
  const r = p.Compute(false, true);
  return { area: Math.abs(r.area ?? 0), perimeter: r.perimeter };
}

/** Whether a polygon crosses itself. Edges count as straight in degrees, which is close enough at the size of a job. */
export function selfIntersects(ring: LonLat[]): boolean {
  const side = (a: LonLat, b: LonLat, c: LonLat) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const edges = ring.map((p, i): [LonLat, LonLat] => [p, ring[(i + 1) % ring.length] as LonLat]);
  return edges.some(([a, b], i) => edges.some(([c, d], j) => {
    if (j <= i + 1 || (i === 0 && j === edges.length - 1)) return false; // the same edge, or an adjacent one
    return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
  }));
}

const compassNames = [
  say("compass.n"), say("compass.ne"), say("compass.e"), say("compass.se"), say("compass.s"), say("compass.sw"), say("compass.w"), say("compass.nw"),
];

/** The nearest of eight compass directions: "northeast". */
export function compassName(bearing: number): string {
  return compassNames[Math.round((((bearing % 360) + 360) % 360) / 45) % 8] ?? "";
}
