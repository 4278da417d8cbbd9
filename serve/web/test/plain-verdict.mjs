// What is said of a verdict.
import { load, table } from "./load.mjs";

const { verdictText, verdictShort } = await load("shared/sheets/verdicttext.ts");
const none = { state: "unchecked", faults: 0, first: [] };
const fit = { state: "fit", faults: 0, first: [] };
const bad = { state: "not fit", faults: 1, first: ["a tile is gone"] };
const head = "NOT FIT: do not rely on this pack. 1 fault: a tile is gone";

table("verdict", [
  ["not checked", verdictText(none), "not checked yet"],
  ["fit is about the pack alone", verdictText(fit), "fit: the picture is complete and what is recorded can be read. This says nothing about the ground."],
  ["not fit", verdictText(bad), head],
  ["beside a name", verdictShort({ ...bad, faults: 250 }), "NOT FIT: 250 faults"],
  ["not checked, beside a name", verdictShort(none), "not checked yet"],
  ["fit is no badge", verdictShort(fit), ""],
]);
