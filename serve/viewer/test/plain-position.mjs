// Checks the parts of a position that need no browser: its words, its circle, the way back.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const sight = await load("positionsight.ts");
const ground = await load("positionground.ts");

const now = 1_800_000_000_000;
const fix = (more) => ({ lon: 0, lat: 0, kind: "rtk-fixed", live: true, recorded: false, error: 0.03, grounds: "gst", at: now, satellites: 9, hdop: 1, time: "", ahead: 0, corrections: null, ...more });

table("an error is rounded up", [
  ["3.08 cm", sight.upText(0.0308, "us"), "1.3 in"],
  ["exactly an inch", sight.upText(0.0254, "us"), "1 in"],
  ["2.4477 m", sight.upText(2.4477, "us"), "8.1 ft"],
  ["13.5 m", sight.upText(13.5, "us"), "45 ft"],
  ["40 m", sight.upText(40, "us"), "140 ft"],
  ["metric, fine", sight.upText(0.0308, "metric"), "3.1 cm"],
  ["metric", sight.upText(1.781, "metric"), "1.8 m"],
  ["a tenth of an inch at least", sight.upText(0.0001, "us"), "0.1 in"],
]);

test("no error is told smaller than it is", () => {
  const metres = { in: 0.0254, ft: 0.3048, cm: 0.01, m: 1 };
  for (let m = 0.003; m < 50_000; m *= 1.037) {
    for (const system of ["us", "metric"]) {
      const [n, unit] = sight.upText(m, system).split(" ");
      const told = Number(n) * metres[unit];
      assert.ok(told >= m * (1 - 1e-9) && told < m * 1.11 + 0.0026, `${m} m became ${n} ${unit}`);
    }
  }
});

table("words of an error", [
  ["a receiver's own", sight.errorText(fix({}), "us"), "within 1.2 in (95 %)"],
  ["from HDOP", sight.errorText(fix({ error: 13.5, grounds: "hdop" }), "us"), "within about 45 ft (95 %, estimated)"],
  ["none", sight.errorText(fix({ error: 0, grounds: "" }), "us"), "error not told"],
]);

table("words of a kind", [
  ["fixed", sight.headText(fix({})), "RTK fixed"],
  ["float is never called fixed", sight.headText(fix({ kind: "rtk-float" })), "RTK float, not settled"],
  ["recorded", sight.headText(fix({ recorded: true, live: false })), "Recorded, not live: RTK fixed"],
  ["simulated", sight.headText(fix({ kind: "simulator", live: false })), "Not live: made up by a simulator"],
  ["unknown", sight.headText(fix({ kind: "unknown", live: false })), "Not live: kind of fix not known"],
]);

test("what is not live has a mark beside it, what is live has none", () => {
  for (const kind of ["rtk-fixed", "rtk-float", "differential", "autonomous", "phone"]) {
    assert.equal(sight.markText(fix({ kind })), "");
    assert.notEqual(sight.markText(fix({ kind, live: false })), "");
  }
  for (const kind of ["unknown", "estimated", "manual", "simulator"]) assert.notEqual(sight.markText(fix({ kind, live: false })), "");
  assert.equal(sight.markText(fix({ recorded: true, live: false })), "RECORDED");
});

table("freshness", [
  ["new", sight.freshness(fix({}), "", now), "fresh"],
  ["5 s", sight.freshness(fix({}), "", now + 5_000), "fresh"],
  ["just over", sight.freshness(fix({}), "", now + 5_001), "fading"],
  ["the receiver has none now", sight.freshness(fix({}), "no fix", now), "fading"],
  ["30 s", sight.freshness(fix({}), "", now + 30_001), "old"],
  ["a clock that was set back a little", sight.freshness(fix({}), "", now - 900), "fresh"],
  ["a clock that was set back: it may be any age", sight.freshness(fix({}), "", now - 60_000), "old"],
]);

table("ages", [
  ["now", sight.agoText(999), "now"], ["after the clock was set back", sight.agoText(sight.ageOf(fix({}), now - 60_000)), "age not known"], ["seconds", sight.agoText(59_900), "59 s ago"], ["minutes", sight.agoText(130_000), "2 min ago"],
  ["hours", sight.agoText(3 * 3600e3), "3 h ago"], ["days", sight.agoText(50 * 3600e3), "2 days ago"], ["1024 weeks", sight.clockText(-7168 * 86_400), "7168 days"],
]);

table("far", [
  ["feet", sight.farText(100, "us"), "328 ft"], ["a mile", sight.farText(1609.344, "us"), "1 mi"], ["miles", sight.farText(2700, "us"), "1.7 mi"],
  ["metres", sight.farText(850, "metric"), "850 m"], ["kilometres", sight.farText(2700, "metric"), "2.7 km"], ["far away", sight.farText(800_000, "us"), "497 mi"],
]);

// Published lines: three short ones of C. Karney's test set for geodesics, the line from
// Flinders Peak to Buninyong of Geoscience Australia, and Land's End to John o' Groats; then,
// reckoned by GeodSolve (GeographicLib), JFK to Heathrow, one degree of the equator and of
// the meridian, and a short way over the 180th.
test("the way to a place", () => {
  for (const [from, to, metres, bearing, within] of [
    [[0, 19.707097385334], [0.000260256428101053, 19.707739582810257], 76.1478894, 20.996796804557, 1e-5],
    [[0, 23.104245923137], [0.002305237470119087, 23.103520430280492], 249.4508219, 108.788775202534, 1e-5],
    [[0, 78.10174623178], [0.014156770744057927, 78.099711031638792], 397.364659, 124.870465352256, 1e-5],
    [[144.424867888889, -37.951033416667], [143.926495527778, -37.652821138889], 54972.271, 306.868158, 1e-4],
    [[-5.71475, 50.06632], [-3.07009, 58.64402], 969954.166, 9.141877, 1e-3],
    [[-73.8, 40.6], [-0.5, 51.6], 5551759.4, 51.19888285, 0.01],
    [[0, 0], [1, 0], 111319.491, 90, 1e-6], [[0, 0], [0, 1], 110574.389, 0, 1e-4], [[179.999, 10], [-179.999, 10], 219.279, 90, 1e-5],
  ]) {
    const got = ground.way(from, to);
    assert.ok(Math.abs(got.metres / metres - 1) < within, `${from} to ${to}: ${got.metres} m, want ${metres}`);
    assert.ok(Math.abs(got.bearing - bearing) < 0.25, `${from} to ${to}: ${got.bearing} degrees`);
  }
  assert.deepEqual([0, 44, 46, 180, 337, 338, 359.9].map(ground.directionText), ["north", "north-east", "north-east", "south", "north-west", "north", "north"]);
});

test("a circle has its metres on the ground in every direction", () => {
  for (const [lat, metres] of [[0, 5], [40.5, 0.02], [-33, 1500], [70, 13.5]]) {
    const all = ground.ring([-140.5, lat], metres);
    assert.deepEqual(all[0], all[all.length - 1]);
    for (const p of all) {
      const got = ground.way([-140.5, lat], p).metres;
      assert.ok(Math.abs(got / metres - 1) < 2e-4, `${lat}: ${got} m, want ${metres}`);
    }
  }
});

table("when it was is never now for what may come late", [
  ["in time", sight.whenText(fix({ time: "2027-01-15T08:00:00Z", ahead: -0.4 }), now), "now"],
  ["2 h behind", sight.whenText(fix({ time: "2027-01-15T06:00:00Z", ahead: -7200 }), now), "time 2 h behind: may be late"],
  ["5 min ahead", sight.whenText(fix({ time: "2027-01-15T08:05:00Z", ahead: 300 }), now), "time 5 min ahead: a clock is wrong"],
]);

table("an error that cannot be is not told", [
  ["corrections of 55 s", sight.errorText(fix({ error: 0, grounds: "old-corrections", corrections: 55 }), "us"), "corrections 55 s old: error not known"],
  ["codes alone within 3 mm", sight.errorText(fix({ kind: "autonomous", error: 0, grounds: "implausible" }), "us"), "error not known"],
  ["why", sight.groundsText(fix({ kind: "autonomous", error: 0, grounds: "implausible" })), "The receiver states an error that a position of this kind (satellites without corrections) cannot have; it is not shown."],
]);

table("the frame is told where corrections decide it", [
  ["RTK", sight.frameText(fix({}), "us").includes("up to 5 ft off this map"), true],
  ["alone", sight.frameText(fix({ kind: "autonomous" }), "us"), ""],
]);

table("decimals are no finer than the error", [
  ["1 in", sight.decimalsOf(fix({})), 8],
  ["44 ft", sight.decimalsOf(fix({ error: 13.5 })), 5],
  ["not told", sight.decimalsOf(fix({ error: 0 })), 6],
]);
