// What a tap found: the nearest first, called “here” only where all of it is, and how it is marked.
import assert from "node:assert/strict";
import test from "node:test";
import { bundle, table } from "./load.mjs";

const { Feature, LineString, Point, Polygon, distanceText, foundTitle, nearestFirst, selectionStyle, setTheme } = await bundle(`
  export { default as Feature } from "ol/Feature";
  export { default as LineString } from "ol/geom/LineString";
  export { default as Point } from "ol/geom/Point";
  export { default as Polygon } from "ol/geom/Polygon";
  export { distanceText, foundTitle, nearestFirst } from "./shared/sheets/found";
  export { selectionStyle } from "./shared/records/styles";
  export { setTheme } from "./shared/lib/theme";
`);

// At the equator a projected meter is one on the ground, within a percent.
const at = (x, name) => ({ name, feature: new Feature(new Point([x, 0])) });
const near = [at(3, "far"), at(0.2, "near"), { name: "line", feature: new Feature(new LineString([[-1, -1], [1, 1]])) }, { name: "unknown", feature: new Feature() }];
table("records found", [
  ["the nearest first", nearestFirst(near, [0, 0]).map((f) => f.name), ["line", "unknown", "near", "far"]],
  ["one is more than a foot away", foundTitle(near, 4, [0, 0]), "4 records nearby"],
  ["found on site beside a record", foundTitle(near.map((one, i) => ({ ...one, onSite: i < 2 })), 3, [0, 0]), "2 found on site, 1 record nearby"],
  ["found on site alone, here", foundTitle(near.slice(1).map((one) => ({ ...one, onSite: true })), near.length - 1, [0, 0]), `${near.length - 1} found on site here`],
  ["all are here", foundTitle(near.slice(1), 3, [0, 0]), "3 records here"],
]);

const pixel = 0.127; // 5 in
table("how far one is in words", [
  ["no finer than a pixel of the screen", distanceText(near[1], [0.181, 0], "us", pixel), "here"],
  ["in whole pixels", distanceText(near[1], [0, 0], "us", pixel), "10 in away"],
  ["no finer than its own place", distanceText({ ...near[1], off: 0.5 }, [0, 0], "us", pixel), "here"],
  ["far", distanceText(near[0], [0, 0], "metric", 0.01), "3 m away"],
  ["of an unknown shape", distanceText(near[3], [0, 0], "us", pixel), ""],
]);

test("an area is filled so that the ground shows through, and has its edge in one line, alone and among others", () => {
  const ring = new Polygon([[[0, 0], [9, 0], [9, 9], [0, 0]]]);
  for (const look of ["day", "night", "sun"]) {
    setTheme(look);
    const [one, ...more] = selectionStyle()(new Feature(ring), 1);
    assert.deepEqual(more, []);
    assert.match(one.getFill().getColor(), /^#[0-9a-f]{6}40$/i);
    assert.equal(one.getStroke().getWidth(), 3);
    assert.equal(one.getStroke().getLineDash(), null);
    const among = selectionStyle()(new Feature({ geometry: ring, lighter: true }), 1);
    assert.deepEqual(among.map((s) => [s.getFill().getColor(), s.getStroke().getWidth()]), [[one.getFill().getColor(), 3]]);
  }
  setTheme("day");
});
