// A measurement in numbers and words. About as fine as what it was read off.
import { inverse, type LonLat, pathLength, polygonMeasure, selfIntersects } from "../coords/geodesic";
import { foot, mile, pixelText, type Units } from "../lib/units";
import { say } from "../lib/words";

export type MeasureKind = "length" | "area";

/** A place that was marked, and the size of the picture's pixel there on the ground, in metres. */
export interface MeasurePoint {
  at: LonLat;
  pixel: number;
}

interface Result {
  /** the number that was asked for, or what to do to get one */
  main: string;
  /** what else is known of it; "" for nothing */
  more: string;
  /** how good it is at best; "" while there is nothing to tell */
  limit: string;
}

const acre = 43_560 * foot ** 2;

/** A number in the step, a power of ten, that is nearest to `limit`; with at most `places` decimals. */
function rounded(value: number, limit: number, places: number): string {
  const power = Math.max(-places, Math.round(Math.log10(Math.max(limit, 1e-9))));
  const step = 10 ** power;
  const v = Math.round(value / step) * step;
  return v.toLocaleString("en", { minimumFractionDigits: Math.max(0, -power), maximumFractionDigits: Math.max(0, -power) });
}

/** A length in feet or metres, from a mile or a kilometre on in these too. */
export function measuredLength(metres: number, limit: number, units: Units): string {
  if (units === "metric") {
    const m = `${rounded(metres, limit, 2)} m`;
    return metres < 1000 ? m : `${m} (${rounded(metres / 1000, limit / 1000, 2)} km)`;
  }
  const ft = `${rounded(metres / foot, limit / foot, 2)} ft`;
  return metres < mile ? ft : `${ft} (${rounded(metres / mile, limit / mile, 2)} mi)`;
}

/** An area in square feet or metres, from an acre or a hectare on in these too; `doubt` in square metres. */
export function measuredArea(area: number, doubt: number, units: Units): string {
  if (units === "metric") {
    const m = `${rounded(area, doubt, 1)} m²`;
    return area < 10_000 ? m : `${m} (${rounded(area / 10_000, doubt / 10_000, 2)} ha)`;
  }
  const ft = `${rounded(area / foot ** 2, doubt / foot ** 2, 0)} sq ft`;
  return area < acre ? ft : `${ft} (${rounded(area / acre, doubt / acre, 2)} acres)`;
}

/** What is measured with the marks and the cross, which counts as one more unless it stands on the last. */
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
