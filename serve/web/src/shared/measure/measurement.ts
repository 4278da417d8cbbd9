// A measurement as text, rounded to the size of the pixels it was read from.
import { inverse, type LonLat, pathLength, polygonMeasure, selfIntersects } from "../coords/geodesic";
import { foot, mile, pixelText, type Units } from "../lib/units";
import { say } from "../lib/words";

export type MeasureKind = "length" | "area";

/** A marked position, and the size of a pixel there on the ground, in meters. */
export interface MeasurePoint {
  at: LonLat;
  pixel: number;
}

interface Result {
  /** the length or area, or what to do to get one */
  main: string;
  /** further numbers; "" for none */
  more: string;
  /** the accuracy at best; "" while nothing is measured */
  limit: string;
}

const acre = 43_560 * foot ** 2;

/** A number rounded to the power of ten nearest to `limit`, with at most `places` decimals. */
function rounded(value: number, limit: number, places: number): string {
  const power = Math.max(-places, Math.round(Math.log10(Math.max(limit, 1e-9))));
  const step = 10 ** power;
  const v = Math.round(value / step) * step;
  return v.toLocaleString("en", { minimumFractionDigits: Math.max(0, -power), maximumFractionDigits: Math.max(0, -power) });
}

/** A length in feet or meters, from a mile or a kilometer on in these too. */
export function measuredLength(metres: number, limit: number, units: Units): string {
  if (units === "metric") {
    const m = `${rounded(metres, limit, 2)} m`;
    return metres < 1000 ? m : `${m} (${rounded(metres / 1000, limit / 1000, 2)} km)`;
  }
  const ft = `${rounded(metres / foot, limit / foot, 2)} ft`;
  return metres < mile ? ft : `${ft} (${rounded(metres / mile, limit / mile, 2)} mi)`;
}

/** An area in square feet or meters, from an acre or a hectare on in these too; `doubt` in square meters. */
export function measuredArea(area: number, doubt: number, units: Units): string {
  if (units === "metric") {
    const m = `${rounded(area, doubt, 1)} m²`;
    return area < 10_000 ? m : `${m} (${rounded(area / 10_000, doubt / 10_000, 2)} ha)`;
  }
  const ft = `${rounded(area / foot ** 2, doubt / foot ** 2, 0)} sq ft`;
  return area < acre ? ft : `${ft} (${rounded(area / acre, doubt / acre, 2)} acres)`;
}

/** Measures marks and cross; the cross counts as a mark unless it is at the last one. */
export function measure(kind: MeasureKind, marks: MeasurePoint[], cross: MeasurePoint, units: Units): Result {
  const last = marks[marks.length - 1];
  if (last === undefined) return { main: say("measure.begin"), more: "", limit: "" };
  const leg = inverse(last.at, cross.at).metres;
  const all = leg > cross.pixel / 2 ? [...marks, cross] : marks;
  const pixel = Math.max(...all.map((m) => m.pixel));
  const path = all.map((m) => m.at);
  const limit = say("measure.limit", { pixel: pixelText(pixel, units) });
  const points = say("measure.points", { n: marks.length });
  const more = all.length > marks.length ? say("measure.leg", { points, length: measuredLength(leg, pixel, units) }) : points;
  if (kind === "length") {
    return { main: say("measure.length", { length: measuredLength(pathLength(path), pixel, units) }), more, limit };
  }
  if (path.length < 3) return { main: say("measure.three"), more, limit };
  if (selfIntersects(path)) return { main: say("measure.crosses"), more: points, limit };
  const { area, perimeter } = polygonMeasure(path);
  const length = measuredLength(perimeter, pixel, units);
  return {
    main: say("measure.area", { area: measuredArea(area, perimeter * pixel / 2, units) }),
    more: all.length > marks.length ? say("measure.edge_cross", { points, length }) : say("measure.edge", { points, length }), limit,
  };
}
