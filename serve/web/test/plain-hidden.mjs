// What a notice says of all that is not drawn in a view.
import { load, table } from "./load.mjs";

const { fewestWords, hiddenTexts } = await load("shared/map/hidden.ts");
const none = { depths: 0, flags: 0, crossings: 0, zones: { drawn: 0, hidden: 0, letters: [] }, records: { drawn: 0, recorded: 0 } };
/** A number and its “!” stay in one line. */
const of = (some, deepest = false) => JSON.parse(JSON.stringify(hiddenTexts({ ...none, ...some }, deepest)).replaceAll("\u00a0!", " !"));
const zones = (drawn, hidden, ...letters) => ({ zones: { drawn, hidden, letters } });

table("what is hidden", [
  ["nothing", of({ zones: { drawn: 4, hidden: 0, letters: [] }, records: { drawn: 9, recorded: 9 } }), null],
  ["some zones, and whose", of(zones(3, 2, "C", "G")), { text: "zones of C, G not drawn · zoom in", shorter: ["some zones not drawn · zoom in"], short: "some zones not drawn · zoom in" }],
  ["some zones of nobody knows whom", of(zones(1, 2)).text, "some zones not drawn · zoom in"],
  ["all zones", of(zones(0, 2, "C", "G")).text, "no tolerance zones drawn · zoom in"],
  ["all kinds are joined", of({ depths: 7, flags: 3, crossings: 1, ...zones(1, 2, "G") }).text, "7 depths, 2 zones, 3 !, 1 crossing hidden · zoom in"],
  ["in fewer words their number", of({ depths: 7, flags: 3, ...zones(1, 2, "G") }).shorter, ["3 !, 9 more hidden · zoom in", "12 marks hidden · zoom in", "12 hidden · zoom in"]],
  ["in fewer words without flags", of({ depths: 7, crossings: 3, ...zones(1, 2, "G") }).shorter, ["12 marks hidden · zoom in", "12 hidden · zoom in"]],
  ["what stays when it has been read has all kinds and the way out", of({ depths: 7, flags: 3, ...zones(1, 2, "G") }).short, "7 depths, 2 zones, 3 ! hidden · zoom in"],
  ["all zones among others", of({ depths: 1, ...zones(0, 2) }).text, "1 depth, all zones hidden · zoom in"],
  ["of a large record", of({ records: { drawn: 1200, recorded: 20000 } }).text, "18,800 of about 20,000 records hidden · zoom in"],
  ["of a large record, and others", of({ depths: 2, records: { drawn: 1, recorded: 2 } }).text, "1 of about 2 records, 2 depths hidden · zoom in"],
  ["nearer there is nothing: the dots tell", of({ depths: 2 }, true).text, "2 depths hidden · tap the dots"],
  ["nearer there is nothing: the lines tell", of({ depths: 2, flags: 1 }, true).text, "2 depths, 1 ! hidden · tap the lines"],
]);

table("what the readout says while the notice is not in sight", [
  ["nothing", fewestWords(of({})), ""],
  ["of one kind", fewestWords(of({ depths: 7 })), "7 depths hidden · zoom in"],
  ["of several kinds their number", fewestWords(of({ depths: 7, flags: 3, ...zones(1, 2, "G") })), "12 hidden · zoom in"],
]);
