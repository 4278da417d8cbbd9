// Lengths and areas on the ground while one draws: quick enough for thousands of corners in every
// frame. WGS 84; edges of an outline are straight in longitude and latitude, as everywhere in a job.
import { inverse, type LonLat } from "../../shared/coords/geodesic";
import { foot, inch, mile, type Units } from "../../shared/lib/units";

const semiMajor = 6378137;
const flattening = 1 / 298.257223563;
const e2 = flattening * (2 - flattening);
const semiMinor = semiMajor * (1 - flattening);
const rad = Math.PI / 180;

/** Up to this many degrees an edge is measured by the radii of curvature in its middle, within a ten-millionth. */
const short = 0.05;

/** The length of an edge, in meters. */
function edge(a: LonLat, b: LonLat): number {
  const [dLon, dLat] = [b[0] - a[0], b[1] - a[1]];
  if (Math.abs(dLon) > short || Math.abs(dLat) > short || Math.abs(a[1]) > 85) return inverse(a, b).metres;
  const mid = ((a[1] + b[1]) / 2) * rad;
  const w = Math.sqrt(1 - e2 * Math.sin(mid) ** 2);
  const [north, east] = [(semiMajor * (1 - e2)) / w ** 3, (semiMajor / w) * Math.cos(mid)];
  return Math.hypot(north * dLat * rad, east * dLon * rad);
}

export function lineLength(line: LonLat[]): number {
  let sum = 0;
  for (let i = 1; i < line.length; i++) sum += edge(line[i - 1] as LonLat, line[i] as LonLat);
  return sum;
}

/** The area between the equator and a latitude, a radian of longitude wide. */
function zone(lat: number): number {
  const [s, e] = [Math.sin(lat), Math.sqrt(e2)];
  return ((semiMinor * semiMinor) / 2) * (s / (1 - e2 * s * s) + Math.atanh(e * s) / e);
}

/** The area in a closed ring, in square meters: Green's theorem with three points along each edge. */
export function ringArea(ring: LonLat[]): number {
  const first = ring[0];
  if (first === undefined) return 0;
  const base = zone(first[1] * rad);
  let sum = 0;
  for (let i = 1; i < ring.length; i++) {
    const [p, q] = [ring[i - 1] as LonLat, ring[i] as LonLat];
    const [mid, half] = [((p[1] + q[1]) / 2) * rad, ((q[1] - p[1]) / 2) * rad * Math.sqrt(0.6)];
    const mean = (5 * zone(mid - half) + 8 * zone(mid) + 5 * zone(mid + half)) / 18;
    sum -= (mean - base) * (q[0] - p[0]) * rad;
  }
  return Math.abs(sum);
}

/** The area in an outline less that in its holes. */
export const outlineArea = (rings: LonLat[][]): number => rings.reduce((sum, r, i) => (i === 0 ? ringArea(r) : sum - ringArea(r)), 0);

const unitsOf: Record<string, number> = { ft: foot, feet: foot, "'": foot, in: inch, inches: inch, '"': inch, mi: mile, yd: 3 * foot, km: 1000, m: 1, cm: 0.01, mm: 0.001 };

/** A length as it is typed, in meters; null where it is none, which the server explains. */
export function lengthTyped(text: string): number | null {
  let sum = 0;
  const rest = text.toLowerCase().replace(/[′’]/g, "'").replace(/[″”]/g, '"').replace(/(\d+(?:\.\d+)?|\.\d+)\s*(feet|ft|inches|in|mi|yd|km|cm|mm|m|'|")/g, (_, n: string, unit: string) => {
    sum += Number(n) * (unitsOf[unit] ?? NaN);
    return "";
  });
  return rest.trim() === "" && sum > 0 ? sum : null;
}

/** A length as one would type it: "80ft", "24.5m". */
export function typed(metres: number, units: Units): string {
  const [of, name] = units === "us" ? [foot, "ft"] : [1, "m"];
  const v = metres / Number(of);
  return `${Number(v.toFixed(v < 100 ? 1 : 0))}${name}`;
}
