// A spot from its distances to two ties: where the two arcs meet, how well they cut, and how
// far off the spot may be. Positions are [longitude, latitude] on WGS 84, lengths are meters.
import { direct, inverse, type LonLat } from "./geodesic";

const radians = Math.PI / 180;

/**
 * The two spots where an arc around one tie meets an arc around another: the one on the left of
 * the way from the first tie to the second, then the one on the right. null where they do not meet.
 * The triangle is solved in the plane: of a side of 1 km that is off by some micrometers.
 */
export function swing(a: LonLat, fromA: number, b: LonLat, fromB: number): [left: LonLat, right: LonLat] | null {
  const base = inverse(a, b);
  const cos = (fromA ** 2 + base.metres ** 2 - fromB ** 2) / (2 * fromA * base.metres);
  if (!(Math.abs(cos) <= 1 + 1e-9)) return null; // also of two ties at one place, or no distance
  const angle = Math.acos(Math.min(1, Math.max(-1, cos))) / radians;
  return [direct(a, base.bearing - angle, fromA).at, direct(a, base.bearing + angle, fromA).at];
}

/** The angle in degrees, 0 to 180, at which two tapes held at two ties meet at a spot. */
export function cutAngle(a: LonLat, spot: LonLat, b: LonLat): number {
  const between = Math.abs(inverse(spot, a).bearing - inverse(spot, b).bearing);
  return Math.min(between, 360 - between);
}

/** Common practice, without a standard behind it: flatter cuts fix a spot poorly. */
const weakCut = 30;
export const isWeakCut = (cut: number): boolean => cut < weakCut || cut > 180 - weakCut;

/** An ellipse on the ground: half-axes in meters, and the direction of the long one in degrees from north. */
interface Ellipse {
  long: number;
  short: number;
  bearing: number;
}

/**
 * The ellipse around a spot from two distances, each with a direction in degrees and a doubt in
 * meters. It goes through the corners of the figure where both distances are within their doubts, so
 * it holds every spot that fits both: √2 times the standard ellipse of two such errors.
 */
export function errorEllipse(one: { bearing: number; doubt: number }, two: { bearing: number; doubt: number }): Ellipse {
  let [nn, ne, ee] = [0, 0, 0]; // the normal matrix, north before east
  for (const { bearing, doubt } of [one, two]) {
    const [n, e] = [Math.cos(bearing * radians) / doubt, Math.sin(bearing * radians) / doubt];
    [nn, ne, ee] = [nn + n * n, ne + n * e, ee + e * e];
  }
  const [middle, spread] = [(nn + ee) / 2, Math.hypot((nn - ee) / 2, ne)];
  const along = Math.atan2(2 * ne, nn - ee) / 2 / radians + 90; // across the direction that is known best
  const least = Math.max(nn * ee - ne * ne, 0) / (middle + spread); // the smaller eigenvalue, without cancelling
  return { long: Math.sqrt(2 / least), short: Math.sqrt(2 / (middle + spread)), bearing: (along + 360) % 180 };
}
