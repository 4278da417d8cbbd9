// Checks the parts of the page that need no browser: numbers, ages, addresses.
import assert from "node:assert/strict";
import { dirname, join } from "node:path";
import test from "node:test";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const src = join(dirname(fileURLToPath(import.meta.url)), "../src");

/** Bundles one TypeScript file in memory and imports it. */
async function load(name) {
  const { outputFiles } = await build({
    entryPoints: [join(src, name)], bundle: true, write: false, format: "esm", target: "node20",
  });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].contents).toString("base64")}`);
}

const units = await load("units.ts");
const place = await load("place.ts");
const look = await load("look.ts");

/** Runs a table of [name, got, wanted]. */
function table(title, rows) {
  for (const [name, got, wanted] of rows) test(`${title}: ${name}`, () => assert.deepEqual(got, wanted));
}

table("depth", [
  ["41 inches", units.depthText(1.0414, "us"), "3′ 5″"],
  ["rounds up to the next foot", units.depthText(0.3047, "us"), "1′ 0″"],
  ["35.5 inches become 3 feet", units.depthText(35.5 * 0.0254, "us"), "3′ 0″"],
  ["under a foot", units.depthText(0.2, "us"), "8″"],
  ["none", units.depthText(0, "us"), "0″"],
  ["above the ground", units.depthText(-0.3048, "us"), "−1′ 0″"],
  ["metric", units.depthText(1.0414, "metric"), "1.04 m"],
]);

table("length", [
  ["24 inches", units.lengthText(0.6096, "us"), "24 in"],
  ["3 feet", units.lengthText(0.9144, "us"), "3 ft"],
  ["a phone's 4.9 m", units.lengthText(4.9, "us"), "16 ft"],
  ["15 cm", units.lengthText(0.15, "metric"), "15 cm"],
  ["1.2 m", units.lengthText(1.2, "metric"), "1.2 m"],
  ["over a hundred keeps its digits", units.lengthText(123, "metric"), "123 m"],
]);

// Ground resolution at latitude 40 is 156543.034·cos 40°/2^z (OGC 17-083r4 Annex D): 0.0572 m at 21.
table("pixel", [
  ["zoom 21 at 40 degrees", units.pixelText(0.0572, "us"), "2.3 in"],
  ["zoom 24 at 40 degrees", units.pixelText(0.0572 / 8, "us"), "0.28 in"],
  ["zoom 16 at 40 degrees", units.pixelText(1.8298, "us"), "6 ft"],
  ["metric", units.pixelText(0.0572, "metric"), "5.7 cm"],
  ["metric, fine", units.pixelText(0.0572 / 8, "metric"), "7.2 mm"],
]);

test("scale bar: fits, is at least a third of the room, and is true", () => {
  const metres = { in: 0.0254, ft: 0.3048, mi: 1609.344, cm: 0.01, m: 1, km: 1000 };
  for (const system of ["us", "metric"]) {
    for (let resolution = 0.004; resolution < 600; resolution *= 1.07) {
      const { width, text } = units.scaleBar(resolution, 130, system);
      const [n, unit] = text.split(" ");
      assert.ok(width <= 130 && width > 130 / 3, `${text} is ${width} pixels at ${resolution}`);
      assert.ok(Math.abs(width * resolution - Number(n) * metres[unit]) < 1e-6, `${text} at ${resolution}`);
    }
  }
});

const now = new Date(2026, 10, 25, 23, 30);
table("age", [
  ["years", units.ageText("1998-05-01", now), "28 years ago"],
  ["a birthday", units.ageText("2016-11-25", now), "10 years ago"],
  ["the day before one", units.ageText("2016-11-27", now), "9 years ago"],
  ["months", units.ageText("2026-03-11", now), "8 months ago"],
  ["days", units.ageText("2026-11-20", now), "5 days ago"],
  ["yesterday", units.ageText("2026-11-24", now), "yesterday"],
  ["today, late", units.ageText("2026-11-25", now), "today"],
  ["to come", units.ageText("2026-11-26", now), "a date still to come"],
  ["a month", units.ageText("2025-03", now), "about 20 months ago"],
  ["this month", units.ageText("2026-11", now), "this month"],
  ["a year", units.ageText("2011", now), "about 15 years ago"],
  ["this year", units.ageText("2026", now), "this year"],
  ["a time", units.ageText("2026-11-25T08:00:00Z", now), "today"],
  ["no date", units.ageText("spring", now), ""],
  ["no such month", units.ageText("2025-13-01", now), ""],
  ["last year, not stated closer", units.ageText("2025", now), "about 16 months ago"],
]);
table("date", [
  ["unknown stays unknown", units.dateText("", now), "date not stated"],
  ["own words are kept", units.dateText("spring", now), "spring"],
  ["today's date here", units.today(now), "2026-11-25"],
]);

const nowhere = { pack: "", at: null };
table("address", [
  ["whole", place.readPlace("#pack=cutbank&at=40.01234,-105.01234,19.3"),
    { pack: "cutbank", at: { lat: 40.01234, lon: -105.01234, zoom: 19.3 } }],
  ["empty", place.readPlace(""), nowhere],
  ["pack alone", place.readPlace("#pack=a%20b"), { pack: "a b", at: null }],
  ["latitude off the map", place.readPlace("#at=91,0,3"), nowhere],
  ["a word for a number", place.readPlace("#at=x,0,3"), nowhere],
  ["an empty number", place.readPlace("#at=,0,3"), nowhere],
  ["one number too many", place.readPlace("#at=1,2,3,4"), nowhere],
  ["not finite", place.readPlace("#at=NaN,Infinity,3"), nowhere],
  ["not percent-coded well", place.readPlace("#pack=%E0%A4%A"), { pack: "\ufffd%A", at: null }],
]);

test("address: read again as written, to a centimetre", () => {
  for (let i = 0; i < 500; i++) {
    const p = { pack: `job ${i} & more #`, at: { lat: Math.random() * 160 - 80, lon: Math.random() * 360 - 180, zoom: Math.random() * 25 } };
    const q = place.readPlace(place.writePlace(p));
    assert.equal(q.pack, p.pack);
    assert.ok(Math.abs(q.at.lat - p.at.lat) < 1e-7 && Math.abs(q.at.lon - p.at.lon) < 1e-7 && Math.abs(q.at.zoom - p.at.zoom) < 0.01);
  }
});

table("look", [
  ["level not stated", look.levelText(""), "level not stated"],
  ["a level", look.levelText("D"), "level D"],
  ["the record's own words", look.levelText("B2P"), "level as recorded: B2P"],
  ["good colours", look.colours({ colour: "#005A98", casing: "#FFFFFF" }), { colour: "#005A98", casing: "#FFFFFF" }],
  ["a hostile colour", look.colours({ colour: "url(http://x)", casing: "#FFFFFF" }), { colour: "#ff1493", casing: "#000000" }],
  ["every level has its own dash", new Set(["A", "B", "C", "D", ""].map((l) => String(look.dash(l)))).size, 5],
]);
