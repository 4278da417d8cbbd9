// Checks the parts of the page that need no browser: numbers, ages, addresses.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const units = await load("shared/lib/units.ts");
const dates = await load("shared/lib/dates.ts");
const record = await load("shared/records/record.ts");
const viewhash = await load("shared/map/viewhash.ts");
const symbology = await load("shared/records/symbology.ts");

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
  ["24 inches", units.lengthText(0.6096, "us"), "2′ 0″"],
  ["512 Hz", units.frequencyText(512), "512 Hz"],
  ["8192 Hz", units.frequencyText(8192), "8.192 kHz"],
  ["32768 Hz", units.frequencyText(8.192 * 4000), "32.768 kHz"],
  ["33 kHz", units.frequencyText(33000), "33 kHz"],
  ["3 feet", units.lengthText(0.9144, "us"), "3′ 0″"],
  ["a zone of 7.3 ft", units.lengthText(2.2352, "us"), "7′ 4″"],
  ["under a foot", units.lengthText(0.0559, "us"), "2.2 in"],
  ["ten feet and more", units.lengthText(3.048, "us"), "10 ft"],
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
  ["years", dates.ageText("1998-05-01", now), "28 years ago"],
  ["a birthday", dates.ageText("2016-11-25", now), "10 years ago"],
  ["the day before one", dates.ageText("2016-11-27", now), "9 years ago"],
  ["months", dates.ageText("2026-03-11", now), "8 months ago"],
  ["days", dates.ageText("2026-11-20", now), "5 days ago"],
  ["yesterday", dates.ageText("2026-11-24", now), "yesterday"],
  ["today, late", dates.ageText("2026-11-25", now), "today"],
  ["to come", dates.ageText("2026-11-26", now), "a date still to come"],
  ["a month", dates.ageText("2025-03", now), "about 20 months ago"],
  ["this month", dates.ageText("2026-11", now), "this month"],
  ["a year", dates.ageText("2011", now), "about 15 years ago"],
  ["this year", dates.ageText("2026", now), "this year"],
  ["a time", dates.ageText("2026-11-25T08:00:00Z", now), "today"],
  ["no date", dates.ageText("spring", now), ""],
  ["no such month", dates.ageText("2025-13-01", now), ""],
  ["last year, not stated closer", dates.ageText("2025", now), "about 16 months ago"],
]);
table("date", [
  ["unknown stays unknown", dates.dateText("", now), "date not stated"],
  ["own words are kept", dates.dateText("spring", now), "spring"],
  ["today's date here", dates.localDay(now), "2026-11-25"],
]);

// The zone of these checks, set before any date is made: 7 hours behind UTC the year round.
const inArizona = (f) => {
  const before = process.env.TZ;
  process.env.TZ = "America/Phoenix";
  try {
    return f();
  } finally {
    if (before === undefined) delete process.env.TZ;
    else process.env.TZ = before;
  }
};
const then = new Date("2026-11-25T20:00:00Z");
table("time", inArizona(() => [
  ["in the phone's zone", dates.dateText("2026-11-18T15:10:00Z", then), "2026-11-18, 8:10 AM, 7 days ago"],
  ["the day before, here", dates.dateText("2026-11-18T02:10:00.25Z", then), "2026-11-17, 7:10 PM, 8 days ago"],
  ["with a zone of its own", dates.dateText("2026-11-18T09:10:00+01:00", then), "2026-11-18, 1:10 AM, 7 days ago"],
  ["zone not stated", dates.dateText("2026-11-18 15:10", then), "2026-11-18, 3:10 PM (time zone not stated), 7 days ago"],
  ["no such hour stays words", dates.dateText("2026-11-18T99:10:00Z", then), "2026-11-18T99:10:00Z, 7 days ago"],
  ["a plain day is no time", dates.isTimestamp("2026-11-18"), false],
  ["words after a time", dates.isTimestamp("2026-11-18T15:10:00Z or so"), false],
  ["the day here", dates.localDayOf("2026-11-18T02:10:00Z"), "2026-11-17"],
  ["no time", dates.statedTime("0001-01-01T00:00:00Z"), ""],
  ["a time", dates.statedTime("2026-11-18T02:10:00Z"), "2026-11-18T02:10:00Z"],
  ["one day", dates.dayRangeText("2026-11-18T15:10:00Z", "2026-11-18T16:00:00Z"), "2026-11-18"],
  ["two days", dates.dayRangeText("2026-11-18T15:10:00Z", "2026-11-19T16:00:00Z"), "2026-11-18 to 2026-11-19"],
]));
process.env.TZ = "UTC";
table("time", [["by a clock on UTC", dates.dateText("2026-11-18T15:10:00Z", then), "2026-11-18, 3:10 PM, 7 days ago"]]);

/** A feature with these properties. */
const feature = (p) => ({ get: (k) => p[k] });
const whole = { quality_level: "D", recorded: "1998", owner: "the town" };
const em = { depth_m: 1.04, frequency_hz: 8192 };
table("own word first", [
  ["level of the part", record.qualityLevelOf(feature({ quality_level: "A" }), whole), { value: "A", own: true }],
  ["level of the record", record.qualityLevelOf(feature({ quality_level: null }), whole), { value: "D", own: false }],
  ["an empty level is none", record.qualityLevelOf(feature({ quality_level: " " }), whole), { value: "D", own: false }],
  ["words stay words", record.qualityLevelOf(feature({ quality_level: "B2P" }), whole), { value: "B2P", own: true }],
  ["date before recorded", record.dateOf(feature({ date: "2020", recorded: "2021" }), whole), { value: "2020", own: true }],
  ["recorded", record.dateOf(feature({ recorded: "2021" }), whole), { value: "2021", own: true }],
  ["date of the record", record.dateOf(feature({}), whole), { value: "1998", own: false }],
  ["owner", record.ownerOf(feature({ owner: "a mill" }), whole), { value: "a mill", own: true }],
]);
table("kind", [
  ["depth and frequency", record.featureKind("Point", feature(em)), "reading"],
  ["depth and current", record.featureKind("Point", feature({ depth_m: 1, current_ma: 0 })), "reading"],
  ["depth and accuracy", record.featureKind("Point", feature({ depth_m: 1, accuracy_m: 0.05 })), "reading"],
  ["depth alone", record.featureKind("Point", feature({ depth_m: 2.8 })), "recorded point"],
  ["frequency without a depth", record.featureKind("Point", feature({ frequency_hz: 8192 })), "recorded point"],
  ["accuracy without a depth", record.featureKind("Point", feature({ accuracy_m: 1 })), "recorded point"],
  ["a line", record.featureKind("MultiLineString", feature(em)), "recorded line"],
  ["an outline", record.featureKind("Polygon", feature(em)), "recorded outline"],
  ["no signal in an empty text", record.hasSignalStrength(feature({ frequency_hz: "", current_ma: null })), false],
]);
table("the record's own words", [
  ["text with its unit", record.asRecorded({ depth: "3ft 5in", depth_m: 1.0414 }, "depth"), "3ft 5in"],
  ["unit in the name", record.asRecorded({ depth_m: 1.0414, Depth_IN: 41 }, "depth"), "41 in"],
  ["the cell of a table", record.asRecorded({ depth_m: 2.7432, depth_as_written: "9.0 ft" }, "depth"), "9.0 ft"],
  ["metres, if nothing else", record.asRecorded({ depth_m: 1.0414 }, "depth"), "1.0414 m"],
  ["of the other length", record.asRecorded({ accuracy: "2in" }, "depth"), ""],
  ["differing words stand beside", record.withRecordWords("3′ 5″", "3ft 5in"), "3′ 5″ (record: 3ft 5in)"],
  ["the same words do not", record.withRecordWords("2 in", "2in"), "2 in"],
  ["none", record.withRecordWords("2 in", ""), "2 in"],
  ["what is a length", ["depth", "Depth_ft", "accuracy_mm", "depth_of", "depths"].filter(record.isLengthKey), ["depth", "Depth_ft", "accuracy_mm"]],
]);

const nowhere = { pack: "", at: null };
table("address", [
  ["whole", viewhash.parseViewHash("#pack=cutbank&at=40.01234,-105.01234,19.3"),
    { pack: "cutbank", at: { lat: 40.01234, lon: -105.01234, zoom: 19.3 } }],
  ["empty", viewhash.parseViewHash(""), nowhere],
  ["pack alone", viewhash.parseViewHash("#pack=a%20b"), { pack: "a b", at: null }],
  ["latitude off the map", viewhash.parseViewHash("#at=91,0,3"), nowhere],
  ["a word for a number", viewhash.parseViewHash("#at=x,0,3"), nowhere],
  ["an empty number", viewhash.parseViewHash("#at=,0,3"), nowhere],
  ["one number too many", viewhash.parseViewHash("#at=1,2,3,4"), nowhere],
  ["not finite", viewhash.parseViewHash("#at=NaN,Infinity,3"), nowhere],
  ["not percent-coded well", viewhash.parseViewHash("#pack=%E0%A4%A"), { pack: "\ufffd%A", at: null }],
]);

test("address: read again as written, to a centimetre", () => {
  for (let i = 0; i < 500; i++) {
    const p = { pack: `job ${i} & more #`, at: { lat: Math.random() * 160 - 80, lon: Math.random() * 360 - 180, zoom: Math.random() * 25 } };
    const q = viewhash.parseViewHash(viewhash.formatViewHash(p));
    assert.equal(q.pack, p.pack);
    assert.ok(Math.abs(q.at.lat - p.at.lat) < 1e-7 && Math.abs(q.at.lon - p.at.lon) < 1e-7 && Math.abs(q.at.zoom - p.at.zoom) < 0.01);
  }
});

table("look", [
  ["level not stated", symbology.levelText(""), "level not stated"],
  ["a level", symbology.levelText("D"), "level D"],
  ["the record's own words", symbology.levelText("B2P"), "level as recorded: B2P"],
  ["good colours", symbology.coloursOf({ colour: "#005A98", casing: "#FFFFFF" }), { colour: "#005A98", casing: "#FFFFFF" }],
  ["a hostile colour", symbology.coloursOf({ colour: "url(http://x)", casing: "#FFFFFF" }), { colour: "#ff1493", casing: "#000000" }],
  ["no look served: dots", symbology.dashOf("A"), [0.1, 9]],
  ["a served dash", (symbology.setLineSymbols({ water: { A: { dash: null }, "": { dash: [1, 2] } } }), symbology.dashOf("A")), []],
  ["words of the record's own look like no level", symbology.dashOf("B2P"), [1, 2]],
]);
