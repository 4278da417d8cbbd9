// What the phone says of a recorded line, a reading and a crossing, as one text to
// read. UPDATE=1 writes it anew: look at the difference.
import assert from "node:assert/strict";
import { readFile, writeFile } from "node:fs/promises";
import test from "node:test";
import { bundle } from "./load.mjs";

process.env.TZ = "America/Phoenix";
const RealDate = Date;
globalThis.Date = class extends RealDate {
  constructor(...at) {
    super(...(at.length === 0 ? ["2026-11-25T20:00:00Z"] : at));
  }
};

/** As much of a document as the page needs to write text. */
class Node {
  constructor(tag) {
    this.tag = tag;
    this.children = [];
    this.classList = { toggle() {}, add() {} };
    this.style = {};
  }
  append(...more) {
    this.children.push(...more);
  }
  setAttribute() {}
  get textContent() {
    return this.children.map((c) => (typeof c === "string" ? c : c.textContent)).join("");
  }
  set textContent(text) {
    this.children = [text];
  }
}
globalThis.document = { createElement: (tag) => new Node(tag), createElementNS: (_, tag) => new Node(tag) };

const { Feature, LineString, Point, foundDerived, foundRecord, recordDetails, derivedDetails, say } = await bundle(`
  export { default as Feature } from "ol/Feature";
  export { default as LineString } from "ol/geom/LineString";
  export { default as Point } from "ol/geom/Point";
  export { foundDerived, foundRecord } from "./shared/sheets/found";
  export { recordDetails } from "./shared/sheets/recorddetails";
  export { derivedDetails } from "./shared/sheets/deriveddetails";
  export { say } from "./shared/lib/words";
`);

/** Heads on lines of their own, what leads with its limits, then each name with its value. */
function written(e) {
  if (typeof e === "string" || e.tag === "svg" || e.tag === "span") return "";
  const text = (i) => e.children[i].textContent;
  switch (e.tag) {
    case "h3": return `== ${e.children.map((c) => (typeof c === "string" ? c : `(${c.textContent})`)).join(" ")}\n`;
    case "dl": return e.children.flatMap((c, i) => (c.tag === "dt" ? [`${text(i)}: ${text(i + 1)}\n`] : [])).join("");
    case "p": return e.textContent === "" ? "" : `${e.textContent}\n`;
    case "li": return `- ${e.textContent}\n`;
    default: return e.children.map(written).join("") + (e.tag === "section" ? "\n" : "");
  }
}

const overlay = (more) => ({
  id: "1-water", title: "water as-builts", utility: "water", utility_name: "potable water", letter: "W", colour: "#0050b5", casing: "#ffffff",
  quality_level: "D", recorded: "1998-05-01", owner: "an invented town", record: "sheet 12", accuracy_m: null, features: 1, url: "", note: "", ...more,
});
const sewer = overlay({ id: "2-sewer", title: "sewer survey", utility: "sewer", utility_name: "sewer", quality_level: "", recorded: "", owner: "", record: "", accuracy_m: 0.3 });
const line = (p) => new Feature({ geometry: new LineString([[0, 0], [10, 10]]), ...p });
const point = (p) => new Feature({ geometry: new Point([0, 0]), ...p });
const hits = [
  ["a line that states much", { overlay: overlay({}), feature: line({
    depth: "4 ft", depth_m: 1.2192, depth_of: "top of pipe", size: "6 in", width_m: 0.1524, material: "ductile iron", date: "2011", quality_level: "C",
    accuracy: "± 1 ft", accuracy_m: 0.3048, owner: "an invented mill", status: "abandoned", flow: "with line", note: "valve box paved over" }) }],
  ["a proposed line", { overlay: overlay({}), feature: line({ status: "design 60 %", status_as_read: "proposed", depth_m: 1.2192 }) }],
  ["a test hole", { overlay: overlay({ quality_level: "" }), feature: point({
    kind: "pothole", kind_as_read: "test hole", depth_m: 1.0668, depth_of: "top of pipe", quality_level: "A", date: "2026-11-20", who: "an invented crew", elevation: "5012.3 ft" }) }],
  ["a line that states nothing", { overlay: sewer, feature: line({}) }],
  ["a reading with a signal", { overlay: overlay({ quality_level: "B" }), feature: point({
    depth: "3ft 5in", depth_m: 1.0414, accuracy_m: 0.0508, frequency_hz: 8192, current_ma: 12.5, recorded: "2026-11-18T03:10:00Z", size: "12 in", width_m: 0.3048 }) }],
  ["a reading whose size is not recorded", { overlay: overlay({ quality_level: "B" }), feature: point({ depth_m: 0.9144, frequency_hz: 8192 }) }],
  ["a depth in words that are not understood", { overlay: overlay({ quality_level: "seen in a trench" }), feature: point({ depth: "shallow", accuracy: "good" }) }],
];

const records = [{ overlay: overlay({}) }, { overlay: sewer }];
const depth = (of, more) => ({ of, level: "B", recorded: "2026-11-18T03:10:00Z", doubt_m: 0.0508, ...more });
const crossing = (p) => new Feature({ part: "crossing", number: 3, in_area: true, lines: ["1-water/2", "2-sewer/1"], names: ["Main Street main", ""], ...p });
const known = [
  ["a crossing, one line above the other", crossing({
    kind: "above", relation: say("crossing.above", { upper: "potable water", lower: "sewer" }), separation_m: 0.9144, clear_m: 0.7112,
    depths_m: [1.0414, 2.1336], bases: ["reading", "between readings"], gaps_m: [null, 9.144],
    depths: [depth("top of pipe", { also_m: 1.1176 }), depth("center of signal", { mixed: true })] })],
  ["a crossing of which one depth is not known", crossing({
    kind: "unknown", relation: say("crossing.unknown"), in_area: false, depths_m: [1.2192, null], bases: ["line", ""], gaps_m: [null, null], depths: [depth("", { level: "", recorded: "", doubt_m: null }), null] })],
  ["a crossing of an old pack", crossing({ depths_m: [1.2192, 2], bases: ["line", "reading"], gaps_m: [null, null], separation_m: 0.7808 })],
  ["a crossing with a reading near it, and a rule", crossing({
    kind: "unknown", relation: say("crossing.unknown"), depths_m: [1.2192, null], bases: ["line", ""], gaps_m: [null, null],
    depths: [depth("top of pipe"), { near: { m: 2.1336, apart_m: 6.096, own: false, of: "center of signal" } }],
    rules: [{ asked: "12 in", by: "an invented town", verdict: "not known", why: say("rule.no_depth") }] })],
  ["lines beside one another", new Feature({
    part: "beside", number: 1, in_area: true, lines: ["1-water/2", "2-sewer/1"], names: ["", ""], length_m: 18.288, least_m: 0.9144, stations_m: [[3.048, 21.336]], relation: say("beside.relation") })],
  ["a tolerance zone", new Feature({ part: "zone", line: "1-water/2", reach_m: 0.6858, size_known: true })],
  ["the same with the record's uncertainty", new Feature({ part: "uncertainty", line: "2-sewer/1", reach_m: 0.9144, size_known: false })],
  ["a line that enters the dig area", new Feature({ part: "entry", line: "1-water/2", kind: "enters the dig area", length_m: 12.192 })],
  ["a line near the dig area", new Feature({ part: "entry", line: "1-water/2", kind: "its tolerance zone reaches the dig area", nearest_m: 0.3048 })],
  ["a line through readings", new Feature({ part: "line", line: "1-water/2", name: "Main Street main", readings: 7 })],
];

test("what the phone says of what was tapped", async () => {
  const file = new URL("golden/details.txt", import.meta.url);
  const parts = [];
  for (const units of ["us", "metric"]) {
    const body = (name, one, section) => parts.push(`# ${name}, ${units}\nin a list: ${[one.title, ...one.words].join(" | ")}\n${written(section)}`);
    for (const [name, hit] of hits) body(name, foundRecord(hit, units, new Date()), recordDetails(hit, units));
    for (const [name, f] of known) body(name, foundDerived(f, records, units, ""), derivedDetails(f, records, units, "an invented state rule"));
  }
  const text = parts.join("\n").replace(/\n+$/, "\n").replace(/\n{3,}/g, "\n\n");
  if (process.env.UPDATE === "1") await writeFile(file, text);
  assert.equal(text, await readFile(file, "utf8"));
});
