// Lengths and areas along the ground, and the words of a measurement.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const ground = await load("shared/coords/geodesic.ts");
const measured = await load("shared/measure/measurement.ts");
const units = await load("shared/lib/units.ts");
const { fromUtm } = await load("shared/coords/utm.ts");

const near = (got, wanted, off) => assert.ok(Math.abs(got - wanted) <= off, `${got}, wanted ${wanted}`);

// C. F. F. Karney, GeodTest data set (CC0): short lines of a site's size, the length in metres.
for (const [lat, lat2, lon2, metres, azimuth] of [
  [19.707097385334, 19.707739582810257, 0.000260256428101053, 76.1478894, 20.996796804557],
  [23.104245923137, 23.103520430280492, 0.002305237470119087, 249.4508219, 108.788775202534],
  [78.10174623178, 78.099711031638792, 0.014156770744057927, 397.364659, 124.870465352256],
]) {
  test(`length: ${metres} m, to a tenth of a millimetre`, () => {
    const r = ground.inverse([0, lat], [lon2, lat2]);
    near(r.metres, metres, 1e-4);
    near(r.bearing, azimuth, 1e-4);
  });
}
test("length: Flinders Peak to Buninyong (Geoscience Australia's example, 54972.271 m)", () => {
  const degrees = (d, m, s) => d + m / 60 + s / 3600;
  const r = ground.inverse([degrees(144, 25, 29.5244), -degrees(37, 57, 3.7203)], [degrees(143, 55, 35.3839), -degrees(37, 39, 10.1561)]);
  near(r.metres, 54972.271, 0.001);
  near(r.bearing, degrees(306, 52, 5.37), 1e-5);
});

// 100 ft north and 100 ft east of 40, -105, by GeodSolve.
const corner = [-105, 40];
const north = [-105, 40.000274508940];
const east = [-104.999643065660, 39.999999999450];
const both = [east[0], north[1]];
test("area: a square of 100 ft, to a tenth of a square foot", () => {
  const { area, perimeter } = ground.polygonMeasure([corner, north, both, east]);
  near(area / 0.3048 ** 2, 10_000, 0.1); // the parallels meet a little: 0.05 sq ft
  near(perimeter / 0.3048, 400, 0.001);
});
test("area: the same either way round", () => {
  near(ground.polygonMeasure([corner, east, both, north]).area, ground.polygonMeasure([corner, north, both, east]).area, 1e-9);
});
// GeographicLib, Planimeter manual: a square of UTM zone 18 north.
test("area: a square of 100 km by the Planimeter manual, and our own UTM", () => {
  const ring = [[500_000, 4_400_000], [600_000, 4_400_000], [600_000, 4_500_000], [500_000, 4_500_000]].map(([easting, northing]) => {
    const { lat, lon } = fromUtm({ zone: 18, north: true, easting, northing });
    return [lon, lat];
  });
  const { area, perimeter } = ground.polygonMeasure(ring);
  near(perimeter, 400139.532959, 1e-5);
  near(area, 10007388597.2, 0.3);
});
test("path: along three sides", () => near(ground.pathLength([corner, north, both, east]) / 0.3048, 300, 0.001));

table("outlines", [
  ["a square does not cross itself", ground.selfIntersects([corner, north, both, east]), false],
  ["a bow does", ground.selfIntersects([corner, both, north, east]), true],
  ["three points never do", ground.selfIntersects([corner, north, east]), false],
  ["the last edge counts", ground.selfIntersects([[0, 0], [2, 0], [2, 2], [1, -1]]), true],
]);
table("directions", [
  ["north", ground.compassName(359), "north"],
  ["southwest", ground.compassName(220), "southwest"],
  ["a negative azimuth", ground.compassName(-90), "west"],
  ["all round", [0, 44, 46, 180, 337, 338, 359.9].map(ground.compassName).join(" "), "north northeast northeast south northwest north north"],
]);

const inch = 0.0254;
const mark = (at, pixel = 2.3 * inch) => ({ at, pixel });
const told = (kind, marks, cross, units = "us") => measured.measure(kind, marks, cross, units);
const limit = "Read off the picture: each point ± 2.3 in at best, one pixel. The picture itself may be off by more.";
table("measured", [
  ["nothing yet", told("length", [], mark(corner)).main, "Move the map to put the first point under the cross."],
  ["to the cross", told("length", [mark(corner)], mark(north)), { main: "Length 100.0 ft", more: "1 point, 100.0 ft from last to cross", limit }],
  ["the cross on the last point counts once", told("length", [mark(corner), mark(north)], mark(north)), { main: "Length 100.0 ft", more: "2 points", limit }],
  ["a coarse point makes all coarse", told("length", [mark(corner, 0.7), mark(north)], mark(north)).main, "Length 100 ft"],
  ["metric", told("length", [mark(corner)], mark(north), "metric").main, "Length 30.5 m"],
  ["area too soon", told("area", [mark(corner)], mark(north)).main, "An area needs three points."],
  ["area", told("area", [mark(corner), mark(north), mark(both)], mark(east)), { main: "Area 10,000 sq ft", more: "3 points and the cross, perimeter 400.0 ft", limit }],
  ["a crossed outline has no area", told("area", [mark(corner), mark(both), mark(north)], mark(east)).main, "The outline crosses itself: no area."],
]);
table("measured, large and small", [
  ["a mile and a half", measured.measuredLength(2414.016, 1, "us"), "7,920 ft (1.50 mi)"],
  ["kilometres", measured.measuredLength(1234.5, 0.2, "metric"), "1,234.5 m (1.23 km)"],
  ["as fine as the limit", measured.measuredLength(30.6, 0.6, "us"), "100 ft"],
  ["nearly a foot is a foot", measured.measuredLength(30.6, 0.28, "us"), "100 ft"],
  ["a fifth of a foot is a tenth", measured.measuredLength(30.6, 0.06, "us"), "100.4 ft"],
  ["a coarse limit", measured.measuredLength(30.48, 4, "us"), "100 ft"],
  ["acres", measured.measuredArea(8093.7, 20, "us"), "87,100 sq ft (2.00 acres)"],
  ["hectares", measured.measuredArea(25_000, 30, "metric"), "25,000 m² (2.50 ha)"],
  ["far", units.distanceText(6_437_376, "us"), "4,000 mi"],
  ["not far", units.distanceText(106.7, "us"), "350 ft"],
  ["a mile", units.distanceText(1609.344, "us"), "1 mi"],
  ["across the country", units.distanceText(2_365_000, "us"), "1,500 mi"],
  ["far, metric", units.distanceText(2340, "metric"), "2.3 km"],
]);
