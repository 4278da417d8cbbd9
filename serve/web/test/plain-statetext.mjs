// Checks what the page says of the flow and the state of a line, and of test holes; and how it draws them.
import { load, table } from "./load.mjs";

const { flowText, stateText, derivedStateText } = await load("shared/sheets/statetext.ts");
const symbols = await load("shared/records/statesymbols.ts");
const record = await load("shared/records/record.ts");
const holes = await load("shared/records/testhole.ts");
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

const live = "Treat it as live until its owner proves that it is not.";
const built = "not built as far as the record tells. It may have been built since.";
table("state", [
  ["none", stateText(of({})), ""],
  ["in service", stateText(of({ status: "Active", status_as_read: "in service" })), "Active, as the record states"],
  ["abandoned", stateText(of({ status: "AIP", status_as_read: "abandoned" })), `AIP, as the record states. ${live}`],
  ["out of service", stateText(of({ status: "OOS", status_as_read: "out of service" })), `OOS, as the record states. ${live}`],
  ["proposed", stateText(of({ status: "design", status_as_read: "proposed" })), `design, as the record states: ${built}`],
  ["proposed digging", stateText(of({ status_as_read: "proposed" })), `proposed, as its utility states: ${built}`],
  ["removed is not absent", stateText(of({ status: "removed", status_as_read: "not understood" })), `removed, as the record states; the words are not understood here. ${live}`],
  ["a pack whose office read no states", stateText(of({ status: "in service" })), `in service, as the record states. ${live}`],
]);
table("state that was worked out", [
  ["nothing to tell", derivedStateText(undefined), ""],
  ["abandoned", derivedStateText("abandoned"), `abandoned, as the record states. ${live}`],
  ["proposed", derivedStateText("proposed"), `proposed, as the record states: ${built}`],
  ["not understood", derivedStateText('state "QX7" not understood'), `state "QX7" not understood. ${live}`],
]);

const looks = [
  { state: "abandoned", strokes: [{ at: 0, length: 7, lean: 45, left: true, right: true }], every: 40, hollow: false, word: "abandoned" },
  { state: "proposed", strokes: [], every: 0, hollow: true, word: "proposed" },
];
const gas = { letter: "G", utility: "gas", colour: "#ECC800", casing: "#000000" };
symbols.setStateSymbols(looks);
table("how a state is drawn", [
  ["in service as ever", symbols.drawnState(of({ status_as_read: "in service" })), ""],
  ["not understood as one that is there", symbols.drawnState(of({ status_as_read: "not understood" })), ""],
  ["abandoned apart", symbols.drawnState(of({ status_as_read: "abandoned" })), "abandoned"],
  ["the record's own words do not decide", symbols.drawnState(of({ status: "abandoned" })), ""],
  ["its letter with its state", symbols.lineLetters(gas, "abandoned"), "G abandoned"],
  ["a letter alone", symbols.lineLetters(gas, ""), "G"],
  ["its symbol", symbols.stateSymbol("proposed").hollow, true],
  ["none for one in service", symbols.stateSymbol("in service"), undefined],
]);

const exposed = { kind_as_read: "test hole", depth_m: 1, kind: "pothole" };
table("test hole", [
  ["as the office read it", record.featureKind("Point", of(exposed)), "test hole"],
  ["the record's own words do not decide", record.featureKind("Point", of({ kind: "test hole" })), "recorded point"],
  ["no line is one", record.featureKind("LineString", of(exposed)), "recorded line"],
  ["what is not stated is said so", holes.testHoleRows(of(exposed)).slice(0, 2), [["Who", "not stated"], ["Photo", "none stated"]]],
  ["who, photo and elevation", holes.testHoleRows(of({ ...exposed, who: "crew 4", photo: "th1.jpg", elevation: "5012.3 ft" })).slice(0, 3),
    [["Elevation", "5012.3 ft, as the record words it; vertical datum: not stated"], ["Who", "crew 4"], ["Photo", "th1.jpg"]]],
]);
