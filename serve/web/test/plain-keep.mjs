// What a phone keeps of a job when it is asked to: the list, the proof, and what stands in the way.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const keep = await load("field/offline/keeppolicy.ts");
const near = await load("field/offline/nearkept.ts");
const text = await load("field/offline/keeptext.ts");

const list = {
  copies: "allowed", version: "v1", tiles: "/packs/a/tiles/{z}/{x}/{y}.jpg?v=v1", count: 3, bytes: 1_000_000,
  spans: [{ z: 14, y: 5, x: 7, marks: "----------------" }, { z: 15, y: 10, x: 14, marks: "0123456789abcdef00000000ffffffff" }],
  documents: ["/packs/a/about.json", "/packs/a/area.geojson"],
};
const wanted = keep.wantedOf(list);
const all = wanted.map((w) => w.path);

table("what is kept", [
  ["documents first, then tiles, each with its mark where there is one", wanted, [
    { path: "/packs/a/about.json", mark: "" }, { path: "/packs/a/area.geojson", mark: "" },
    { path: "/packs/a/tiles/14/7/5.jpg?v=v1", mark: "" },
    { path: "/packs/a/tiles/15/14/10.jpg?v=v1", mark: "0123456789abcdef" }, { path: "/packs/a/tiles/15/15/10.jpg?v=v1", mark: "00000000ffffffff" },
  ]],
  ["nothing without a list", keep.wantedOf({ copies: "", version: "v1", count: 0, bytes: 0 }), []],
  ["whole", keep.proofOf(wanted, new Set(all)), { kept: 5, all: 5 }],
  ["one is missing", keep.proofOf(wanted, new Set(all.slice(1))), { kept: 4, all: 5 }],
  ["something else does not count", keep.proofOf(wanted, new Set(["/packs/a/kept", "/packs/b/about.json"])), { kept: 0, all: 5 }],
  ["what is missing", keep.missingOf(wanted, new Set(all.slice(0, 4))).map((w) => w.path), all.slice(4)],
]);

test("large records: vector tiles cover the box with one more at each side, at every zoom to the deepest that is kept", () => {
  const part = { tilejson: "/packs/a/overlays/g/tilejson.json", tiles: "/g/{z}/{x}/{y}.mvt?v=v1", near: "/n?v=v1", whole: "/w" };
  const box = [-105.001, 40.0, -105.0, 40.001];
  const paths = new Set(keep.wantedOf({ ...list, large: [part], box }).map((w) => w.path));
  assert.ok(paths.has(part.tilejson));
  for (let z = 13; z <= 21; z++) {
    // OGC 17-083r4, Annex D: columns and rows of Web Mercator.
    const x = Math.floor(((-105.0005 + 180) / 360) * 2 ** z);
    const sine = Math.sin((40.0005 * Math.PI) / 180);
    const y = Math.floor((0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI)) * 2 ** z);
    for (const [dx, dy] of [[0, 0], [1, 1], [-1, -1]]) assert.ok(paths.has(`/g/${z}/${x + dx}/${y + dy}.mvt?v=v1`), `zoom ${z}`);
  }
  assert.ok(![...paths].some((p) => p.startsWith("/g/22/")));
});

const now = new Date("2026-11-29T12:00:00Z");
table("what stands in the way", [
  ["nothing", keep.obstacleOf(list, null, 5e9, now), null],
  ["nothing, where the browser tells no room", keep.obstacleOf(list, null, null, now), null],
  ["terms that say nothing", keep.obstacleOf({ ...list, copies: "" }, null, 5e9, now), "not-stated"],
  ["a word that is not known", keep.obstacleOf({ ...list, copies: "perhaps" }, null, 5e9, now), "not-stated"],
  ["terms that forbid it", keep.obstacleOf({ ...list, copies: "forbidden" }, null, 5e9, now), "forbidden"],
  ["terms that have ended", keep.obstacleOf(list, "2026-11-29T11:59:59Z", 5e9, now), "ended"],
  ["terms that have not", keep.obstacleOf(list, "2026-11-29T12:00:01Z", 5e9, now), null],
  ["too many tiles", keep.obstacleOf({ ...list, too_many: true }, null, 5e9, now), "too-many"],
  ["room for less than a tenth more", keep.obstacleOf(list, null, 1_050_000, now), "no-room"],
  ["a full browser", keep.isFull(Object.assign(new Error(""), { name: "QuotaExceededError" })), true],
  ["another failure", keep.isFull(new TypeError("")), false],
]);

const copy = (version, finished) => ({ version, finished });
table("which copy answers", [
  ["of the version seen last", keep.copyToShow([copy("v1", "2"), copy("v2", "1")], "v1"), "v1"],
  ["none, where a later version was seen", keep.copyToShow([copy("v1", "2")], "v2"), ""],
  ["the latest complete one, where none was seen", keep.copyToShow([copy("v1", "1"), copy("v2", "2"), copy("v3", "")], ""), "v2"],
  ["an incomplete one, where there is no other", keep.copyToShow([copy("v3", "")], ""), "v3"],
  ["none", keep.copyToShow([], ""), ""],
]);

const name = keep.keptName("valve-12", "18ec-203000");
table("names", [
  ["a copy", [keep.isKeptName(name), keep.isCopyOf(name, "valve-12"), keep.packIn(name)], [true, true, "valve-12"]],
  ["not of a pack whose name begins like it", keep.isCopyOf(name, "valve"), false],
  ["not the automatic cache", keep.isKeptName("groundsheet tiles 1"), false],
]);

table("a tile that is not there is enlarged from", [
  ["those above it, nearest first", keep.ancestors("/packs/a/tiles/3/5/6.png"), [
    { path: "/packs/a/tiles/2/2/3.png", tile: "2/2/3", scale: 2, x: 1, y: 0 },
    { path: "/packs/a/tiles/1/1/1.png", tile: "1/1/1", scale: 4, x: 1, y: 2 },
    { path: "/packs/a/tiles/0/0/0.png", tile: "0/0/0", scale: 8, x: 5, y: 6 },
  ]],
  ["nothing, where it is no tile", keep.ancestors("/packs/a/about.json"), []],
]);

table("the list of jobs", [
  ["with one that is kept alone", keep.withKept([{ id: "a" }], [{ id: "b" }]).map((p) => p.id), ["a", "b"]],
  ["a listed one once", keep.withKept([{ id: "a", name: "listed" }], [{ id: "a", name: "kept" }]), [{ id: "a", name: "listed" }]],
]);

table("sizes", [
  ["small", keep.sizeText(850_000), "850 kB"], ["middle", keep.sizeText(12_345_678), "12 MB"], ["large", keep.sizeText(1_440_000_000), "1.4 GB"],
]);

// A meter is 1 / 111,319.49 degrees of latitude on the sphere of Web Mercator.
const meter = 180 / (Math.PI * 6378137);
const feature = (type, coordinates, properties = {}) => ({ type: "Feature", geometry: { type, coordinates }, properties });
const square = (half) => [[[-half, -half], [half, -half], [half, half], [-half, half], [-half, -half]]].map((ring) => ring.map(([x, y]) => [x * meter, y * meter]));
const found = (all, within, parts = []) => near.nearOf(all, { lon: 0, lat: 0, within, parts }).features.map((f) => f.properties.n);
const things = [
  feature("Polygon", square(5), { n: "inside", part: "zone" }),
  feature("LineString", [[-9 * meter, 2 * meter], [9 * meter, 2 * meter]], { n: "line", part: "line" }),
  feature("Point", [3 * meter, 0], { n: "point" }),
  feature("MultiPoint", [[50 * meter, 0], [1 * meter, 0]], { n: "points" }),
  feature("Polygon", [...square(50), ...square(4)], { n: "in its hole", part: "zone" }),
  { type: "Feature", geometry: null, properties: { n: "nowhere" } },
];
table("near a place", [
  ["points, lines, outlines, each nearest first", found(things, 4.5), ["points", "point", "line", "inside", "in its hole"]],
  ["within less", found(things, 1.5), ["points", "inside"]],
  ["of derived parts only the outlines that it lies in", found(things, 4.5, ["zone", "line"]), ["line", "inside"]],
  ["count is of all, though few are returned", near.nearOf(Array.from({ length: 30 }, () => things[2]), { lon: 0, lat: 0, within: 9, parts: [] }).count, 30],
  ["a shape of a derived part is left out", near.nearOf(things, { lon: 0, lat: 0, within: 4, parts: ["zone"] }).features[0].geometry, null],
]);
test("near a place at 60 degrees, a degree of longitude is half as long", () => {
  const at = [feature("Point", [10 + 4 * meter, 60], { n: 1 })];
  assert.equal(near.nearOf(at, { lon: 10, lat: 60, within: 2.01, parts: [] }).count, 1);
  assert.equal(near.nearOf(at, { lon: 10, lat: 60, within: 1.99, parts: [] }).count, 0);
});

const record = { entry: { id: "a", name: "Valve 12", about: "", packed: "2026-11-28T12:00:00Z" }, version: "v1", seal: "f6cb-24cd", began: "2026-11-29T10:00:00Z", finished: "2026-11-29T11:00:00Z", bytes: 2_060_000 };
table("words", [
  ["its size, its seal", text.copyRows(record, {}, now).map(([, v]) => v).filter((v) => /MB|seal/.test(v)).length, 2],
  ["its end by the terms", text.copyRows(record, { keep_until: "2026-12-01T00:00:00Z" }, now)[3][1].startsWith("may be kept until"), true],
  ["an end that is past", /remove it$/.test(text.copyRows(record, { keep_until: "2026-11-01T00:00:00Z" }, now)[3][1]), true],
  ["why not: not stated", text.obstacleText("not-stated", list, "", 0, now).includes("copies_on_phones"), true],
]);
