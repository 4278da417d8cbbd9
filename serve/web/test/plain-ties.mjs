// Ties, stations and offsets in words, and their doubts.
import assert from "node:assert/strict";
import test from "node:test";
import { bundle, load, table } from "./load.mjs";

const { bestSwing, swingText, tapeText, tapeTo, tiesText, wayText } = await load("shared/measure/tietext.ts");
const { doubtText, lengthDoubt } = await load("shared/measure/doubt.ts");
const { markedLine, offsetText, offsetsText, stationText, swapped } = await load("shared/measure/offsettext.ts");
const { positionSpot } = await load("field/position/spot.ts");
const { direct, inverse } = await load("shared/coords/geodesic.ts");

const foot = 0.3048;
const inch = foot / 12;
const sure = (metres) => ({ metres, atLeast: false });
const atBest = (metres) => ({ metres, atLeast: true });
const unstated = { metres: null, atLeast: false };
const target = { at: [-105, 40], what: "Gas: point", doubt: sure(4 * inch), grounds: "Accuracy as recorded: 4 in.", named: "" };
/** A spot in a direction from the target, in feet. */
const spot = (bearing, feet, doubt = sure(2 * inch), named = "") => ({ at: direct(target.at, bearing, feet * foot).at, what: "Spot", doubt, grounds: "So it is.", named });

table("doubts", [
  ["the sum of both ends and half an inch", doubtText(lengthDoubt([sure(4 * inch), sure(2 * inch)], "us"), "us"), "± 6.5 in"],
  ["half a centimeter", doubtText(lengthDoubt([sure(0.1), sure(0.05)], "metric"), "metric"), "± 16 cm"],
  ["a pixel is the best it may be", doubtText(lengthDoubt([atBest(2 * inch), sure(4 * inch)], "us"), "us"), "± 6.5 in at best"],
  ["not stated stays not stated", doubtText(lengthDoubt([unstated, sure(0.01)], "us"), "us"), "± not stated"],
  ["also beside a pixel", doubtText(lengthDoubt([atBest(0.05), unstated], "us"), "us"), "± not stated"],
  ["rounded up", doubtText(sure(6.51 * inch), "us"), "± 6.6 in"],
]);

const tape = tapeTo(spot(225, 12 + 4 / 12), target, "us");
table("tapes", [
  ["feet and inches", tapeText(tape, "us"), "12′ 4″ ± 6.5 in"],
  ["meters", tapeText(tapeTo(spot(225, 10), target, "metric"), "metric"), "3.05 m ± 16 cm"],
  ["the way is from the tie", wayText(tape), "from the tie to the northeast, 45° from true north"],
  ["all round north", wayText({ bearing: 359.7 }), "from the tie to the north, 0° from true north"],
]);

const square = { target, ties: [spot(180, 30), spot(270, 40)] };
const weak = { target, ties: [spot(180, 30), spot(200, 40)] };
const cautious = /Tie 3 does not tell the two apart/;
table("a swing", [
  ["none of one tie", swingText({ target, ties: [spot(0, 10)] }, "us"), []],
  ["none without a target", swingText({ target: null, ties: [] }, "us"), []],
  ["square: the angle, the side, the ellipse of √2 · 6.5 in", swingText(square, "us"), [
    "Swing of ties 1 and 2: the tapes cut at 90°.",
    "Looking from tie 1 to tie 2, the spot is on the right. The arcs also meet on the left, 48′ 0″ from it: not there.",
    "Both doubts together are nearly a circle around the spot: ± 9.2 in.",
  ]],
  ["the other way round it is on the left", swingText({ target, ties: [square.ties[1], square.ties[0]] }, "us")[1],
    "Looking from tie 1 to tie 2, the spot is on the left. The arcs also meet on the right, 48′ 0″ from it: not there."],
  ["weak at 20°, and long across the tapes", swingText(weak, "us").filter((s) => /weak|long/.test(s)).map((s) => s.slice(0, 86)), [
    "A weak cut: below 30° or above 150° a small error of a tape moves the spot far. (Commo",
    "Both doubts together are an ellipse around the spot: ± 3.2 ft along its long half-axis",
  ]],
  ["weak at 160°", swingText({ target, ties: [spot(0, 30), spot(160, 40)] }, "us")[1].startsWith("A weak cut"), true],
  ["good at 40°", swingText({ target, ties: [spot(0, 30), spot(40, 40)] }, "us").some((s) => s.startsWith("A weak cut")), false],
  ["a picture's pixel: at best", swingText({ target, ties: [spot(180, 30, atBest(inch)), spot(270, 40)] }, "us")[2].includes("at best"), true],
  ["one not stated: no ellipse", swingText({ target, ties: [spot(180, 30, unstated), spot(270, 40)] }, "us")[2],
    "How far off the swing may be is not stated, because a doubt is not."],
  ["of three, the two that cut best", bestSwing({ target, ties: [spot(180, 30), spot(190, 30), spot(265, 20)] }, "us").pair, [0, 2]],
  ["the third tells the places apart", swingText({ target, ties: [...square.ties, spot(90, 20)] }, "us")[3].startsWith("Tie 3 tells the two apart: 20′ 0″ here, "), true],
  ["or not, in line with the first two", cautious.test(swingText({ target, ties: [spot(180, 30), spot(270, 40), { ...spot(0, 0), at: direct(direct(target.at, 180, 30 * foot).at, inverse(direct(target.at, 180, 30 * foot).at, direct(target.at, 270, 40 * foot).at).bearing, 7).at }] }, "us").join()), true],
  ["two ties at one place", swingText({ target, ties: [spot(0, 30), spot(0, 30)] }, "us"), ["These ties give no swing: they are at one place, or at the target."]],
  ["a tie at the target", swingText({ target, ties: [spot(0, 0), spot(0, 30)] }, "us"), ["These ties give no swing: they are at one place, or at the target."]],
  ["the target between its ties", swingText({ target, ties: [spot(0, 30), spot(180, 30)] }, "us")[1].startsWith("A weak cut"), true],
]);

test("copied text of ties: lengths, doubts, places, limits", () => {
  const text = tiesText({ target, ties: [spot(180, 30, sure(2 * inch), "hydrant"), spot(270, 40)] }, "us", ([lon, lat]) => `${lat.toFixed(5)} ${lon.toFixed(5)}`);
  for (const part of ["Target", "Gas: point. Accuracy as recorded: 4 in.", "40.00000 -105.00000", "Tie 1: hydrant: 30′ 0″ ± 6.5 in, from the tie to the north, 0° from true north",
    "Tie 2: 40′ 0″", "cut at 90°", "not the pipe", "A tape laid on a slope reads longer"]) assert.ok(text.includes(part), `${part} is not in:\n${text}`);
});

table("stations", [
  ["feet", stationText(123.44 * foot, "us"), "1+23.4"],
  ["a whole station", stationText(99.97 * foot, "us"), "1+00.0"],
  ["zero", stationText(0, "us"), "0+00.0"],
  ["far", stationText(12345.6 * foot, "us"), "123+45.6"],
  ["meters", stationText(1012.345, "metric"), "1+012.35"],
  ["meters, zero", stationText(0, "metric"), "0+000.00"],
]);

const go = (from, ...legs) => legs.reduce((at, [bearing, feet]) => direct(at, bearing, feet * foot).at, from);
const line = { path: [target.at, go(target.at, [0, 200]), go(target.at, [0, 200], [90, 100])], what: "Water", doubt: sure(6 * inch), grounds: "" };
const point = (east, north, doubt = sure(inch)) => ({ ...target, at: go(target.at, [90, east], [0, north]), doubt });
const told = (east, north, doubt) => offsetText(line, point(east, north, doubt), "us");
table("station and offset", [
  ["beside", told(-5.5, 123.4), { main: "1+23.4, 5′ 6″ left of the line", more: [], doubt: "Along and across, each ± 7.5 in." }],
  ["on it", told(0, 50).main, "0+50.0, on the line"],
  ["before the start", told(2, -10).main, "10′ 0″ before the start 0+00.0, 2′ 0″ right of the line drawn on straight"],
  ["beyond the end", told(108, 197).main, "8′ 0″ beyond the end 3+00.0, 3′ 0″ right of the line drawn on straight"],
  ["outside the bend", told(-3, 204).main, "2+00.0 at a bend, 5′ 0″ left of the line. Nothing is square to the line there"],
  ["inside the bend, two", told(20, 180), { main: "1+80.0, 20′ 0″ right of the line", more: ["As near within the doubt: 2+20.0, 20′ 0″ right of the line"], doubt: "Along and across, each ± 7.5 in." }],
  ["nearly so", told(20, 179.5).more.length, 1],
  ["no longer", told(20, 179).more.length, 0],
  ["a large doubt sees more", told(20, 179, sure(2)).more.length, 1],
  ["a doubt not stated", told(5, 50, unstated).doubt, "Along and across, each ± not stated."],
  ["the other way round", offsetText(swapped(line), point(-5.5, 123.4), "us").main, "1+76.6, 5′ 6″ right of the line"],
  ["a line without length", offsetText({ ...line, path: [target.at, target.at] }, point(1, 1), "us").main, "The line has no length."],
]);
table("a line marked by hand", [
  ["one point is none", markedLine([target]), null],
  ["as sure as its least sure point", markedLine([spot(0, 1, sure(1)), spot(0, 2, atBest(2)), spot(0, 3, sure(1))]).doubt, { metres: 2, atLeast: true }],
  ["not stated where one is not", markedLine([spot(0, 1, sure(1)), spot(0, 2, unstated), spot(0, 3, sure(9))]).doubt.metres, null],
]);
test("copied text of offsets", () => {
  const text = offsetsText({ line, points: [point(-5.5, 123.4)] }, "us", () => "PLACE");
  for (const part of ["Water", "Start 0+00.0: PLACE", "End 3+00.0: PLACE", "Point 1: 1+23.4, 5′ 6″ left of the line", "not at all as recorded"]) assert.ok(text.includes(part), `${part} is not in:\n${text}`);
});

const now = 1_800_000_000_000;
const fix = {
  lon: -105, lat: 40, kind: "autonomous", live: true, recorded: false, error: 2, grounds: "gst", stated: null, correction: null, station: null,
  frame: null, nad83: 1.2, at: now - 1000, satellites: 9, hdop: 1, time: "", clock: null, ahead: null,
};
const taken = (more, trouble = "") => positionSpot({ fix: { ...fix, ...more }, trouble }, "us", now);
table("the position as a tie", [
  ["as it is", taken({}).doubt, sure(2)],
  ["error not stated", taken({ error: 0, grounds: "" }).doubt, unstated],
  ["corrected in a frame not stated: its shift is added", taken({ kind: "rtk-fixed", error: 0.05 }).doubt, sure(1.25)],
  ["corrected in WGS 84", taken({ kind: "rtk-fixed", error: 0.05, frame: "WGS84 (G2139)" }).doubt, sure(0.05)],
  ["corrected, its shift not known", taken({ kind: "rtk-fixed", error: 0.05, nad83: null }).doubt, unstated],
  ["recorded is said", /RECORDED/.test(taken({ recorded: true, live: false }).what), true],
  ["old is none", taken({ at: now - 60_000 }), "No position to take. It is 60 s old."],
  ["none is none", positionSpot({ fix: null, trouble: "No receiver is connected to the laptop." }, "us", now), "No position to take. No receiver is connected to the laptop."],
]);

test("kept on the device: what was written is read, anything else is nothing", async () => {
  const stored = new Map();
  globalThis.localStorage = { getItem: (k) => stored.get(k) ?? null, setItem: (k, v) => stored.set(k, v) };
  const { readKept, writeKept } = await bundle('export * from "./shared/measure/kept"');
  const kept = { seal: "ab12", spots: [target, spot(180, 30, unstated)], line: { path: line.path, what: "Water", doubt: line.doubt, grounds: "" } };
  writeKept("ties:x", kept);
  assert.deepEqual(readKept("ties:x"), kept);
  for (const bad of ["", "{", "null", "[]", '{"seal":1,"spots":[],"line":null}', JSON.stringify({ ...kept, spots: [{ ...target, at: [1, 200] }] }),
    JSON.stringify({ ...kept, spots: [{ ...target, doubt: { metres: -1, atLeast: false } }] }), JSON.stringify({ ...kept, line: { ...kept.line, path: [[0, 0]] } }),
    JSON.stringify({ ...kept, spots: [{ ...target, what: { toString: 1 } }] })]) {
    stored.set([...stored.keys()][0], bad);
    assert.equal(readKept("ties:x"), null, bad);
  }
  writeKept("ties:x", { seal: "", spots: [], line: null });
  assert.equal([...stored.values()][0], "");
});

const { makeSketchLayer, tieSketch } = await bundle('export * from "./shared/measure/sketchstyle"; export * from "./shared/measure/tiesketch";');
test("what is drawn of ties: no depth of a record may stand under a mark, the target, or the words of a tape", () => {
  const told = [];
  const sketch = makeSketchLayer((room) => told.push(room));
  sketch.draw([]);
  assert.equal(told.length, 0, "nothing drawn, and nothing before: all records would be placed again for nothing");
  sketch.draw(tieSketch({ target, ties: [spot(225, 20), spot(300, 30)] }, "us"));
  const [room] = told;
  const words = room.filter(([, , , aside = 0]) => aside > 30);
  assert.equal(words.filter(([, , , , below = 0]) => below === 0).length, 2, "the words of both tapes, on them");
  assert.equal(words.filter(([, , , , below]) => below > 20).length, 1, "the words below the other place of the swing");
  assert.equal(room.length - words.length, 4, "two marks, the target, and the other place");
  sketch.draw([]);
  assert.deepEqual(told[1], [], "cleared ties leave no room");
});
