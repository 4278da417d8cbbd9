// Distances and directions from a position, on the ellipsoid of GPS.

/** Longitude and latitude in degrees. */
export type LonLat = [number, number];

const a = 6378137;
const f = 1 / 298.257223563;
const e2 = f * (2 - f);
const radians = Math.PI / 180;

/** Metres of one degree of longitude and of latitude, at a latitude. */
function degreeMetres(lat: number): [number, number] {
  const w = Math.sqrt(1 - e2 * Math.sin(lat * radians) ** 2);
  return [(a / w) * Math.cos(lat * radians) * radians, ((a * (1 - e2)) / w ** 3) * radians];
}

/** The ring of places that lie so many metres from a place: what an error circle is on the ground. */
export function ring([lon, lat]: LonLat, metres: number, corners = 72): LonLat[] {
  const [east, north] = degreeMetres(lat);
  return Array.from({ length: corners + 1 }, (_, i): LonLat => {
    const turn = ((i % corners) / corners) * 2 * Math.PI;
    return [lon + (metres * Math.sin(turn)) / east, lat + (metres * Math.cos(turn)) / north];
  });
}

/**
 * How far it is to a place, in metres, and in which direction it lies at the
 * start, in degrees from north. Exact enough for the way back to a job: within a
 * thousandth up to 100 km, within a hundredth everywhere.
 */
export function way(from: LonLat, to: LonLat): { metres: number; bearing: number } {
  const [lat1, lat2] = [from[1] * radians, to[1] * radians];
  const turn = (to[0] - from[0]) * radians;
  const bearing = Math.atan2(
    Math.sin(turn) * Math.cos(lat2),
    Math.cos(lat1) * Math.sin(lat2) - Math.sin(lat1) * Math.cos(lat2) * Math.cos(turn));
  const h = Math.sin((lat2 - lat1) / 2) ** 2 + Math.cos(lat1) * Math.cos(lat2) * Math.sin(turn / 2) ** 2;
  // The radius of the ellipsoid in that direction, half way (Euler).
  const [east, north] = degreeMetres((from[1] + to[1]) / 2);
  const across = Math.cos(((from[1] + to[1]) / 2) * radians);
  const [n, m] = [east / radians / Math.max(across, 1e-9), north / radians];
  const r = 1 / (Math.cos(bearing) ** 2 / m + Math.sin(bearing) ** 2 / n);
  return { metres: 2 * r * Math.asin(Math.min(1, Math.sqrt(h))), bearing: ((bearing / radians) + 360) % 360 };
}
