// Rows left out of a record, and the datum it is on.
import { load, table } from "./load.mjs";

const { leftOutText, datumText } = await load("shared/sheets/importnotes.ts");
const rows = (n) => Array.from({ length: n }, (_, i) => ({ line: i + 2, why: "x" }));
table("rows left out", [
  ["one", leftOutText({ title: "Valves", left_out: [{ line: 18, why: "read over a vault" }] }),
    "1 row of Valves was left out by the map manager and is on no map: line 18: read over a vault"],
  ["two", leftOutText({ title: "Valves", left_out: rows(2) }), "2 rows of Valves were left out by the map manager and are on no map: line 2: x; line 3: x"],
  ["many", leftOutText({ title: "Valves", left_out: rows(13) }).endsWith("line 11: x; and 3 more"), true],
  ["none", leftOutText({ title: "Valves", left_out: [] }), ""],
  ["an older pack", leftOutText({ title: "Valves" }), ""],
  ["null", leftOutText({ title: "Valves", left_out: null }), ""],
]);
table("datum of a record", [
  ["shifted", datumText({ datum: "WGS 84, shifted from NAD83(2011) at epoch 2026.0 by groundsheet, about 4.39 ft WEST and 20.6 in NORTH" }),
    "datum: WGS 84, shifted from NAD83(2011) at epoch 2026.0 by groundsheet, about 4.39 ft WEST and 20.6 in NORTH"],
  ["stated", datumText({ datum: "NAD83(2011)" }), "datum: NAD83(2011)"],
  ["by the format alone", datumText({ datum: "WGS 84 (by the file's format; the record does not say)" }), ""],
  ["not stated", datumText({ datum: "" }), ""],
  ["an older pack", datumText({}), ""],
]);
