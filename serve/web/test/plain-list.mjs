// Checks the list of records and the search through it: what is found by which words, what lies
// in the dig area, and what a list tells of a record.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { bundle, table } from "./load.mjs";

const { Feature, LineString, MultiLineString, Point, Polygon, countText, filtered, folded, noteAsked, wholeMatches, makeInArea, makeListing, matches, searchedText, titleOf, lineOf, typedWords, countOf, VectorSource } = await bundle(`
  export { default as Feature } from "ol/Feature";
  export { LineString, MultiLineString, Point, Polygon } from "ol/geom";
  export { default as VectorSource } from "ol/source/Vector";
  export { folded, matches, searchedText, typedWords, wholeMatches } from "./shared/list/textmatch";
  export { makeInArea } from "./shared/list/inarea";
  export { countText, filtered, noteAsked } from "./shared/list/results";
  export { countOf, makeListing } from "./shared/list/listing";
  export { lineOf, titleOf } from "./shared/sheets/recorddetails";
`);

// The laptop answers to the same file (serve/overlay).
const cases = JSON.parse(await readFile(new URL("../../overlay/testdata/find.json", import.meta.url), "utf8"));
for (const c of cases) {
  test(`find: ${c.name}`, () => {
    const text = `${searchedText(c.properties)}\n${folded(c.record ?? "")}`;
    assert.equal(matches(typedWords(c.typed), text), c.found, `“${c.typed}” in ${JSON.stringify(text)}`);
  });
}

table("what comes first", [
  ["a whole label before a part of one", wholeMatches(typedWords("s1"), "s1\nws1"), 1],
  ["a part alone", wholeMatches(typedWords("s1"), "s10\nws1"), 0],
  ["label and line", wholeMatches(typedWords("ws-1 s1"), "s1\nws1"), 2],
]);

const square = new Polygon([[[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]]);
const ring = new Polygon([[[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]], [[3, 3], [7, 3], [7, 7], [3, 7], [3, 3]]]);
const isIn = makeInArea([square]);
table("in the dig area", [
  ["a point", isIn(new Point([5, 5])), true],
  ["a point beside it", isIn(new Point([11, 5])), false],
  ["a line with one end in it", isIn(new LineString([[5, 5], [50, 5]])), true],
  ["a line through it with no corner in it", isIn(new LineString([[-5, 4], [15, 6]])), true],
  ["a line past a corner, whose box overlaps", isIn(new LineString([[-3, 8], [4, 15]])), false],
  ["one part of two", isIn(new MultiLineString([[[20, 20], [30, 30]], [[-5, 5], [15, 5]]])), true],
  ["an outline around it", isIn(new Polygon([[[-5, -5], [15, -5], [15, 15], [-5, 15], [-5, -5]]])), true],
  ["an outline beside it", isIn(new Polygon([[[12, 0], [15, 0], [15, 5], [12, 0]]])), false],
  ["in the hole of an area", makeInArea([ring])(new Point([5, 5])), false],
  ["a line within the hole", makeInArea([ring])(new LineString([[4, 4], [6, 6]])), false],
  ["in the second of two areas", makeInArea([new Polygon([[[20, 20], [30, 20], [30, 30], [20, 20]]]), square])(new Point([1, 1])), true],
  ["no area", makeInArea([])(new Point([1, 1])), false],
]);

const overlay = (id, more) => ({
  id, title: `record ${id}`, utility: "water", utility_name: "potable water", letter: "W", colour: "#0050b5", casing: "#ffffff",
  quality_level: "D", recorded: "1998-05-01", owner: "an invented town", record: "sheet 12", accuracy_m: null, features: 1, url: "", note: "", ...more,
});
const layerOf = (o, features, more = {}) => ({ overlay: o, parts: [{ getSource: () => new VectorSource({ features }) }], fault: "", notDrawn: 0, ...more });
const at = (x, y, p = {}) => new Feature({ geometry: new Point([x, y]), ...p });

test("the list: by utility, in the area apart from around it, what is not loaded told", () => {
  const gas = overlay("3", { utility_name: "gas" });
  const listing = makeListing([
    layerOf(overlay("1"), [at(5, 5), at(50, 5)]), layerOf(overlay("2"), [at(6, 6)]), layerOf(gas, [at(7, 7)]),
    layerOf(overlay("4"), [], { fault: "out of reach" }), layerOf(overlay("5", { tilejson: "/t", features: 3000 }), []),
  ], [square]);
  assert.deepEqual(listing.inside.map((g) => [g.utility, g.entries.length]), [["potable water", 2], ["gas", 1]]);
  assert.deepEqual(listing.around.map((g) => [g.utility, g.entries.length]), [["potable water", 1]]);
  assert.deepEqual([countOf(listing.inside), listing.tiled.length, listing.missing.length], [3, 1, 1]);
  assert.equal(makeListing([layerOf(gas, [at(7, 7)])], []).inside, null);
  assert.ok(matches(typedWords("invented gas"), listing.inside[1].entries[0].text()), "the record's own words are not found");
});

test("the list: ten thousand features take no longer than a blink", () => {
  const many = Array.from({ length: 10_000 }, (_, i) => at(i % 20, i / 500, { label: `R-${i}`, note: "Dépôt, an invented street" }));
  const began = process.cpuUsage();
  const listing = makeListing([layerOf(overlay("1"), many)], [square]);
  const found = [...listing.inside, ...listing.around].flatMap((g) => g.entries).filter((e) => matches(typedWords("r-9999 depot"), e.text()));
  const spent = process.cpuUsage(began).user / 1e6;
  assert.equal(found.length, 1);
  assert.ok(spent < 2, `${spent} s`);
});

test("the list: what was searched and what was not is said with the count", () => {
  const large = layerOf(overlay("5", { title: "many", tilejson: "/t", features: 3000 }), []);
  const gone = layerOf(overlay("4", { title: "gone" }), [], { fault: "out of reach" });
  const listing = makeListing([layerOf(overlay("1"), [at(5, 5), at(50, 5)]), large, gone], [square]);
  const asked = [];
  const told = (n) => countText("R-9", n, listing, asked);
  const rest = "NOT searched: “gone”, which is not loaded.";
  assert.equal(told(0), `Searched: what 2 loaded records state. The laptop searches “many”. ${rest}`);
  assert.equal(told(1), `1 record found. Searched: what 2 loaded records state. The laptop searches “many”. ${rest}`);
  noteAsked(asked, { layer: large, matched: 0, searched: 0, fault: "It did not answer." });
  assert.equal(told(0), `Nothing found for “R-9”. That does not mean nothing is there. Searched: what 2 loaded records state. NOT searched: “many” (3,000 features). It did not answer. ${rest}`);
  noteAsked(asked, { layer: large, matched: 4, searched: 1200, fault: "" });
  assert.equal(told(1), `5 records found. Searched: what 2 loaded records state. Searched on the laptop: 1,200 of 3,000 features of “many”; there was no time for the rest. ${rest}`);
  noteAsked(asked, { layer: large, matched: 4, searched: 3000, fault: "" }); // a further page
  assert.equal(asked[0].searched, 1200);
  const one = makeListing([layerOf(overlay("1"), [at(5, 5)])], [square]);
  assert.equal(countText("x", 0, one, []), "Nothing found for “x”. That does not mean nothing is there. Searched: what 1 loaded record states.");
});

test("the list: whole labels first, groups without any left out", () => {
  const listing = makeListing([layerOf(overlay("1"), [at(5, 5, { label: "S10" }), at(6, 6, { label: "S1" })]), layerOf(overlay("2", { utility_name: "gas" }), [at(7, 7, { label: "x" })])], [square]);
  const { inside, around } = filtered(listing, typedWords("s-1"));
  assert.deepEqual(inside.map((g) => g.entries.map((e) => e.hit.feature.get("label"))), [["S1", "S10"]]);
  assert.deepEqual(around, []);
});

const hit = (geometry, p, o = overlay("1")) => ({ overlay: o, feature: new Feature({ geometry, ...p }) });
const spot = new Point([0, 0]);
const now = new Date("2026-11-25T20:00:00Z");
table("a record in a list", [
  ["a reading of a line", titleOf(hit(spot, { depth_m: 1, frequency_hz: 512, label: "S4", line: "WS-1" })), "reading S4, line WS-1"],
  ["a valve", titleOf(hit(spot, { label: "valve" })), "recorded point valve"],
  ["without a name", titleOf(hit(new LineString([[0, 0], [1, 1]]), {})), "recorded line"],
  ["a depth carries its reference", lineOf(hit(spot, { depth_m: 1.0414, frequency_hz: 512, date: "2026-11-20" }), "us", now), ["3′ 5″ to the center of the signal, an estimate", "5 days ago"]],
  ["a part in the record's words", lineOf(hit(spot, { depth_m: 1.0414, depth_of: "top of pipe" }), "us", now), ["3′ 5″ to the top of the pipe, as the record states", "28 years ago"]],
  ["a part in other words", lineOf(hit(spot, { depth_m: 1.0414, depth_of: "collar" }), "us", now)[0], "3′ 5″ to collar, as the record states"],
  ["no depth", lineOf(hit(spot, {}, overlay("1", { recorded: "" })), "us", now), ["depth not known", "date not stated"]],
  ["abandoned is no clear", lineOf(hit(spot, { status: "AIP", status_as_read: "abandoned" }), "us", now)[1], "AIP: treat as live"],
  ["in service needs no word", lineOf(hit(spot, { status: "active", status_as_read: "in service" }), "us", now).length, 2],
]);
