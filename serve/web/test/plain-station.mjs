// Station and offset along a line.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const { feetOn, lineLength } = await load("shared/coords/station.ts");
const { direct, inverse } = await load("shared/coords/geodesic.ts");

const near = (got, wanted, off, what = "") => assert.ok(Math.abs(got - wanted) <= off, `${what} ${got}, wanted ${wanted}`);
const go = (from, ...legs) => legs.reduce((at, [bearing, metres]) => direct(at, bearing, metres).at, from);
const start = [-105, 40];
/** 100 m north, then 60 m east. */
const bent = [start, go(start, [0, 100]), go(start, [0, 100], [90, 60])];
/** The feet of a point so far east and north of the start, as rounded rows. */
const feet = (east, north, path = bent) => feetOn(path, go(start, [90, east], [0, north]))
  .map((f) => [f.where, Number(f.station.toFixed(2)), Number(f.offset.toFixed(2)) + 0]);

// By hand, in the plane: corner at 100 m, end at 160 m.
table("station and offset, by hand", [
  ["left of the first edge", feet(-5, 40), [["beside", 40, -5]]],
  ["right of it, the other edge far", feet(3, 20)[0], ["beside", 20, 3]],
  ["on the line", feet(0, 70)[0], ["beside", 70, 0]],
  ["inside the bend, both are as near", feet(10, 90), [["beside", 90, 10], ["beside", 110, 10]]],
  ["outside the bend, the corner is nearest", feet(-3, 104), [["bend", 100, -5]]],
  ["left of the second edge", feet(30, 108), [["beside", 130, -8]]],
  ["before the start", feet(2, -6)[0], ["before", -6, 2]],
  ["beyond the end", feet(64, 97)[0], ["beyond", 164, 3]],
]);
test("a bend to the left has its outside on the right", () => {
  const path = [start, go(start, [0, 100]), go(start, [0, 100], [270, 60])];
  assert.deepEqual(feet(3, 104, path), [["bend", 100, 5]]);
});
test("length: as the path by GeographicLib, a long edge straight in degrees", () => {
  near(lineLength(bent), 160, 1e-6);
  // From 40 north, 105 west to 40.01 north, 104.95 west: 4411.1 m; the two ways lie 0.3 m apart, which adds nothing.
  near(lineLength([start, [-104.95, 40.01]]), inverse(start, [-104.95, 40.01]).metres, 1e-3);
});
test("a long edge: its middle in degrees lies on it", () => {
  const middle = [-104.975, 40.005];
  const [foot] = feetOn([start, [-104.95, 40.01]], middle);
  near(foot.offset, 0, 0.002);
  near(foot.station, lineLength([start, [-104.95, 40.01]]) / 2, 0.2);
});
test("points twice over and empty lines", () => {
  assert.deepEqual(feetOn([start, start, bent[1]], go(start, [0, 50])).map((f) => Math.round(f.station)), [50]);
  assert.deepEqual(feetOn([start, start], start), []);
  assert.deepEqual(feetOn([start], start), []);
});

test("round trip: a station and an offset laid out give themselves back", () => {
  let s = 5;
  const n = (from, to) => {
    s = (s * 48271) % 2147483647;
    return from + (to - from) * (s / 2147483647);
  };
  for (let i = 0; i < 300; i++) {
    const from = [n(-179, 179), n(-75, 75)];
    const bearing = n(0, 360);
    const corner = go(from, [bearing, n(20, 95)]);
    const path = [from, corner, go(corner, [bearing + n(-60, 60), n(20, 95)])];
    const first = inverse(from, corner);
    const [along, offset] = [n(0, first.metres), n(-8, 8)];
    const foot = direct(from, first.bearing, along);
    const point = direct(foot.at, foot.bearing + 90, offset).at;
    const found = feetOn(path, point);
    const own = found.find((f) => Math.abs(f.station - along) < 1e-4);
    assert.ok(own, `${path} ${along} ${offset}: ${JSON.stringify(found)}`);
    near(own.offset, offset, 1e-5);
    // And nothing on the line is nearer than the first foot.
    for (let k = 0; k <= 200; k++) {
      const t = (k / 200) * 2;
      const [p, q] = t <= 1 ? [path[0], path[1]] : [path[1], path[2]];
      const u = t <= 1 ? t : t - 1;
      const here = [p[0] + (q[0] - p[0]) * u, p[1] + (q[1] - p[1]) * u];
      assert.ok(inverse(here, point).metres >= found[0].distance - 1e-3);
    }
  }
});
