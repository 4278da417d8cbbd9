// Checks what the page says of lines that cross or run beside one another.
import { load, table } from "./load.mjs";

const { besideRows, unknownDepthText, ruleRows } = await load("shared/sheets/pairtext.ts");
const of = (properties) => ({ get: (key) => properties[key] });

table("beside", [
  ["a stretch", besideRows(of({ length_m: 20, least_m: 0.9144, stations_m: [[3.048, 23.048]], relation: "beside one another as recorded" }), "us"), [
    ["Over", "66 ft as recorded, from station 10 ft of the first line"],
    ["Beside", "beside one another as recorded"]]],
  ["spoiled", besideRows(of({ length_m: 20, stations_m: "x" }), "metric"), [["Over", "20 m"], ["Beside", ""]]],
]);

const judged = { index: 0, verdict: "not met", why: "within the stated doubts there is at most 10 in between them", asked: "12 in", by: "sheet 4" };
table("rules", [
  ["one", ruleRows(of({ rules: [judged] })), [["Clearance rule",
    "clearance rule of 12 in (sheet 4): not met as recorded; within the stated doubts there is at most 10 in between them"]]],
  ["not known", ruleRows(of({ rules: [{ ...judged, verdict: "not known", why: "not stated: a size" }] })), [["Clearance rule",
    "clearance rule of 12 in (sheet 4): not known whether it is met; not stated: a size"]]],
  ["none", ruleRows(of({ rules: [] })), []],
  ["an older pack", ruleRows(of({})), []],
  ["spoiled", ruleRows(of({ rules: [null, "x"] })), []],
]);

const near = { m: 0.9906, apart_m: 0.3048, own: false, of: "top" };
table("reading near a crossing", [
  ["of another record", unknownDepthText({ m: null, near }, "us"),
    "unknown for this line; nearest reading of the same utility 3′ 3″ to top, 1′ 0″ away, of another record; it is not this line's depth"],
  ["of its own", unknownDepthText({ m: null, near: { ...near, own: true, of: "" } }, "metric"),
    "unknown for this line; nearest reading of the same utility 0.99 m to part not stated, 30 cm away, of the same record; it is not this line's depth"],
  ["none", unknownDepthText({ m: null }, "us"), "unknown"],
  ["an older pack", unknownDepthText(undefined, "us"), "unknown"],
  ["spoiled", unknownDepthText({ near: { m: "x" } }, "us"), "unknown"],
]);
