// Checks what the page says of the flow and the state of a line.
import { load, table } from "./load.mjs";

const { flowText, stateText } = await load("state.ts");
const of = (properties) => ({ get: (key) => properties[key] });
const east = [[0, 0], [5, 5], [10, 0]];

table("flow", [
  ["as drawn", flowText(of({ flow: "with line" }), "sewer", east), "toward its east end, as the record states"],
  ["the other way", flowText(of({ flow: "Against the line" }), "sewer", east), "toward its west end, as the record states"],
  ["to the southeast", flowText(of({ flow: "with" }), "sewer", [[0, 0], [10, -10]]), "toward its southeast end, as the record states"],
  ["not understood", flowText(of({ flow: "downhill" }), "sewer", east), "as the record words it: downhill"],
  ["round a loop", flowText(of({ flow: "with line" }), "water", [[0, 0], [1, 1], [0, 0]]), "as the record words it: with line"],
  ["a sewer without", flowText(of({}), "sewer", east), "not stated: the order in which a line was drawn is no direction"],
  ["a manhole", flowText(of({}), "sewer", null), ""],
  ["water without", flowText(of({}), "water", east), ""],
]);

const caution = ", as the record states. Treat it as live until its owner proves that it is not.";
table("state", [
  ["none", stateText(of({})), ""],
  ["in service", stateText(of({ status: "in service" })), "in service, as the record states"],
  ["abandoned", stateText(of({ status: "Abandoned in place" })), `Abandoned in place${caution}`],
  ["out of service", stateText(of({ status: "out of service" })), `out of service${caution}`],
  ["own word", stateText(of({ status: "QX7" })), "QX7, as the record states"],
]);
