// What drawing measures, against GeographicLib; steps that are taken back; corners that keep their digits.
import assert from "node:assert/strict";
import { test } from "node:test";
import Geodesic from "geographiclib-geodesic";
import { load } from "./load.mjs";

const { WGS84 } = Geodesic.Geodesic;
const { lineLength, ringArea, outlineArea, lengthTyped, typed } = await load("desk/area/ground");
const { makeHistory, linesOf, withLines, placeOf } = await load("desk/area/shapes");

let seed = 1;
const random = () => {
  seed = (seed * 16807) % 2147483647;
  return seed / 2147483647;
};

/** A ring round a place, so large in degrees; its corners many or few. */
function ring(size, corners) {
  const [lon, lat] = [random() * 300 - 150, random() * 140 - 70];
  const all = Array.from({ length: corners }, (_, i) => {
    const a = (i / corners) * 2 * Math.PI;
    const r = size * (0.5 + random() / 2);
    return [lon + r * Math.cos(a), lat + r * Math.sin(a)];
  });
  return [...all, all[0]];
}

test("a length along the ground is GeographicLib's, to a millionth", () => {
  for (let i = 0; i < 400; i++) {
    const line = ring([0.00002, 0.001, 0.03, 0.2][i % 4], 3 + (i % 20));
    const want = line.slice(1).reduce((sum, p, k) => sum + WGS84.Inverse(line[k][1], line[k][0], p[1], p[0]).s12, 0);
    const got = lineLength(line);
    assert.ok(Math.abs(got - want) <= want * 1e-6 + 1e-8, `${got} is not ${want}: ${JSON.stringify(line)}`);
  }
});

test("an area is GeographicLib's, but for edges that are straight in degrees and not on the ground", () => {
  for (let i = 0; i < 400; i++) {
    const all = ring([0.0002, 0.001, 0.02][i % 3], 3 + (i % 20));
    const apart = [1e-6, 1e-5, 2e-4][i % 3]; // grows with the square of an edge
    const p = WGS84.Polygon(false);
    for (const [lon, lat] of all.slice(0, -1)) p.AddPoint(lat, lon);
    const want = Math.abs(p.Compute(false, true).area);
    const got = ringArea(all);
    assert.ok(Math.abs(got - want) <= want * apart + 1e-3, `${got} is not ${want}: ${JSON.stringify(all)}`);
  }
  const outer = ring(0.01, 12);
  const hole = outer.map(([x, y]) => [outer[0][0] + (x - outer[0][0]) / 4, outer[0][1] + (y - outer[0][1]) / 4]);
  assert.ok(Math.abs(outlineArea([outer, hole]) / ringArea(outer) - 15 / 16) < 1e-3);
});

test("lengths as they are typed", () => {
  for (const [text, want] of [["60ft", 18.288], ["15 m", 15], ["3ft 5in", 1.0414], ["3'5\"", 1.0414], ["0.5mi", 804.672], [".5 km", 500], ["60", null], ["", null], ["wide", null], ["0ft", null], ["60ft wide", null]]) {
    const got = lengthTyped(text);
    assert.ok(want === null ? got === null : Math.abs(got - want) < 1e-9, `${text}: ${got}`);
  }
  assert.equal(typed(24.384, "us"), "80ft");
  assert.equal(typed(3.333, "metric"), "3.3m");
  assert.equal(typed(333.3, "metric"), "333m");
});

test("every step is taken back and made again", () => {
  let told = 0;
  const steps = [[]];
  const h = makeHistory(steps[0], () => told++);
  for (let i = 1; i <= 50; i++) {
    h.set([...h.now, { kind: "circle", center: [i, 0], radius: "1m" }]);
    steps.push(h.now);
  }
  for (let i = 49; i >= 0; i--) {
    h.undo();
    assert.equal(h.now, steps[i]);
  }
  assert.equal(h.canUndo, false);
  h.undo();
  h.redo();
  assert.equal(h.now, steps[1]);
  h.set(steps[7]);
  assert.equal(h.canRedo, false);
  assert.ok(told > 100);
});

test("a box that is changed is an outline", () => {
  const box = { kind: "box", from: "box[0]", rings: [[[2, 1], [0, 3]]] };
  assert.deepEqual(linesOf(box), [[[0, 1], [2, 1], [2, 3], [0, 3], [0, 1]]]);
  assert.equal(withLines(box, linesOf(box)).kind, "polygon");
  assert.deepEqual(placeOf([-140.123456789, 40.000000049]), [-140.1234568, 40]);
});
