// Universal Transverse Mercator on WGS 84, by Krüger's series to the fourth
// order in the third flattening, good to well under a millimeter within a zone.
// Source: C. F. F. Karney, "Transverse Mercator with an accuracy of a few
// nanometers", 2011, equations 7 to 12 and 14 to 21, coefficients 35 and 36.

/** A position in UTM, in meters. */
export interface Utm {
  zone: number;
  north: boolean;
  easting: number;
  northing: number;
}

const a = 6378137;
const f = 1 / 298.257223563;
const n = f / (2 - f);
const e = Math.sqrt(f * (2 - f));
const scale = 0.9996;
const rectifying = (a / (1 + n)) * (1 + n ** 2 / 4 + n ** 4 / 64);

const alpha = [
  n / 2 - (2 / 3) * n ** 2 + (5 / 16) * n ** 3 + (41 / 180) * n ** 4,
  (13 / 48) * n ** 2 - (3 / 5) * n ** 3 + (557 / 1440) * n ** 4,
  (61 / 240) * n ** 3 - (103 / 140) * n ** 4,
  (49561 / 161280) * n ** 4,
];
const beta = [
  n / 2 - (2 / 3) * n ** 2 + (37 / 96) * n ** 3 - (1 / 360) * n ** 4,
  (1 / 48) * n ** 2 + (1 / 15) * n ** 3 - (437 / 1440) * n ** 4,
  (17 / 480) * n ** 3 - (37 / 840) * n ** 4,
  (4397 / 161280) * n ** 4,
];

const radians = (degrees: number) => (degrees * Math.PI) / 180;
const degrees = (r: number) => (r * 180) / Math.PI;

/** The zone of a position, with the wider zones of Norway and Svalbard. */
function zoneOf(lat: number, lon: number): number {
  const east = ((lon + 180) % 360 + 360) % 360 - 180;
  if (lat >= 56 && lat < 64 && east >= 3 && east < 12) return 32;
  if (lat >= 72 && lat < 84 && east >= 0 && east < 42) return east < 9 ? 31 : east < 21 ? 33 : east < 33 ? 35 : 37;
  return Math.floor((east + 180) / 6) + 1;
}

/** Whether a latitude is in the range of UTM; the poles use another projection. */
export const inUtmRange = (lat: number): boolean => lat >= -80 && lat < 84;

/** The tangent of the conformal latitude, from that of the geographic one. */
function conformal(tau: number): number {
  const sigma = Math.sinh(e * Math.atanh((e * tau) / Math.hypot(1, tau)));
  return tau * Math.hypot(1, sigma) - sigma * Math.hypot(1, tau);
}

/** Projects a position to its zone. */
export function toUtm(lat: number, lon: number): Utm {
  const zone = zoneOf(lat, lon);
  const turn = radians(lon - (zone * 6 - 183));
  const tau = conformal(Math.tan(radians(lat)));
  const xi = Math.atan2(tau, Math.cos(turn));
  const eta = Math.asinh(Math.sin(turn) / Math.hypot(tau, Math.cos(turn)));
  let [x, y] = [eta, xi];
  alpha.forEach((c, i) => {
    const k = 2 * (i + 1);
    y += c * Math.sin(k * xi) * Math.cosh(k * eta);
    x += c * Math.cos(k * xi) * Math.sinh(k * eta);
  });
  const north = lat >= 0;
  return { zone, north, easting: 500_000 + scale * rectifying * x, northing: scale * rectifying * y + (north ? 0 : 10_000_000) };
}

/** Unprojects a position to degrees. */
export function fromUtm({ zone, north, easting, northing }: Utm): { lat: number; lon: number } {
  const y = (northing - (north ? 0 : 10_000_000)) / (scale * rectifying);
  const x = (easting - 500_000) / (scale * rectifying);
  let [xi, eta] = [y, x];
  beta.forEach((c, i) => {
    const k = 2 * (i + 1);
    xi -= c * Math.sin(k * y) * Math.cosh(k * x);
    eta -= c * Math.cos(k * y) * Math.sinh(k * x);
  });
  const wanted = Math.sin(xi) / Math.hypot(Math.sinh(eta), Math.cos(xi));
  let tau = wanted;
  for (let i = 0; i < 5; i++) { // Newton steps: two are enough, five cost nothing
    const now = conformal(tau);
    tau += ((wanted - now) / Math.hypot(1, now)) * ((1 + (1 - e * e) * tau * tau) / ((1 - e * e) * Math.hypot(1, tau)));
  }
  const lon = zone * 6 - 183 + degrees(Math.atan2(Math.sinh(eta), Math.cos(xi)));
  return { lat: degrees(Math.atan(tau)), lon: ((lon + 540) % 360) - 180 };
}
