// Checks the parts of a position that need no browser: its words, its circle, the way back.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const fixes = await load("field/position/fix.ts");
const units = await load("shared/lib/units.ts");
const bar = await load("field/position/bartext.ts");
const frame = await load("field/position/frame.ts");
const ground = await load("shared/coords/geodesic.ts");

const now = 1_800_000_000_000;
const fix = (more) => ({ lon: 0, lat: 0, kind: "rtk-fixed", live: true, recorded: false, error: 0.03, grounds: "gst", at: now, satellites: 9, hdop: 1, time: "", stated: null, correction: null, station: null, frame: null, nad83: null, clock: null, ahead: null, ...more });

table("an error is rounded up", [
  ["3.08 cm", units.roundedUpText(0.0308, "us"), "1.3 in"],
  ["exactly an inch", units.roundedUpText(0.0254, "us"), "1 in"],
  ["2.4477 m", units.roundedUpText(2.4477, "us"), "8.1 ft"],
  ["13.5 m", units.roundedUpText(13.5, "us"), "45 ft"],
  ["40 m", units.roundedUpText(40, "us"), "140 ft"],
  ["metric, fine", units.roundedUpText(0.0308, "metric"), "3.1 cm"],
  ["metric", units.roundedUpText(1.781, "metric"), "1.8 m"],
  ["a tenth of an inch at least", units.roundedUpText(0.0001, "us"), "0.1 in"],
]);

test("no error is told smaller than it is", () => {
  const metres = { in: 0.0254, ft: 0.3048, cm: 0.01, m: 1 };
  for (let m = 0.003; m < 50_000; m *= 1.037) {
    for (const system of ["us", "metric"]) {
      const [n, unit] = units.roundedUpText(m, system).split(" ");
      const told = Number(n) * metres[unit];
      assert.ok(told >= m * (1 - 1e-9) && told < m * 1.11 + 0.0026, `${m} m became ${n} ${unit}`);
    }
  }
});

table("words of an error", [
  ["a receiver's own", fixes.errorText(fix({}), "us"), "within 1.2 in (95 %)"],
  ["from HDOP", fixes.errorText(fix({ error: 13.5, grounds: "hdop" }), "us"), "within about 45 ft (95 %, estimated)"],
  ["none", fixes.errorText(fix({ error: 0, grounds: "" }), "us"), "error not stated"],
]);

const old = { grounds: "old-corrections", error: 0, correction: 55 };
const wrong = { kind: "autonomous", grounds: "implausible", error: 0, stated: 0.008315 };

table("an error that is not believed is not told as one", [
  ["implausible", fixes.errorText(fix(wrong), "us"), "stated error implausible for this kind of fix"],
  ["why", fixes.groundsText(fix(wrong), "us"), "The receiver states 0.4 in (95 %). That is implausible for satellites without corrections, so there is no circle."],
  ["old corrections", fixes.errorText(fix(old), "us"), "error not stated"],
  ["and why", fixes.groundsText(fix(old), "us"), "The corrections are too old to trust what the receiver states, so there is no circle."],
]);

table("what keeps a position from now", [
  ["nothing", fixes.doubts(fix({ ahead: 9.9, correction: 2 })), []],
  ["corrections", fixes.doubts(fix(old)), ["corrections 55 s old"]],
  ["2 h behind", fixes.doubts(fix({ ahead: -7200 })), ["time 2 h behind"]],
  ["5 min ahead", fixes.doubts(fix({ ahead: 300 })), ["time 5 min ahead"]],
  ["a date of 2007", fixes.doubts(fix({ ahead: -7168 * 86_400 })), ["time 19 years behind"]],
  ["10 s", fixes.doubts(fix({ ahead: -10 })), ["time 10 s behind"]],
  ["a recording has no clock", fixes.doubts(fix({ ahead: -7200, recorded: true })), []],
  ["both", fixes.doubts(fix({ ...old, ahead: -60 })), ["corrections 55 s old", "time 60 s behind"]],
]);

const says = (more, later = 0, trouble = "") => {
  const { state, head, rest } = bar.barText("receiver", { fix: fix(more), trouble }, "us", now + later);
  return `${state}: ${head} | ${rest}`;
};
table("the bar", [
  ["settled", says({}), "fresh: RTK fixed | within 1.2 in (95 %) · now · frame not stated"],
  ["a stated frame", says({ frame: "NAD83(2011)" }, 2000), "fresh: RTK fixed | within 1.2 in (95 %) · 2 s ago · in NAD83(2011)"],
  ["old corrections", says(old), "doubt: RTK fixed | corrections 55 s old · error not stated · frame not stated"],
  ["2 h behind", says({ ahead: -7200 }), "doubt: RTK fixed | time 2 h behind · within 1.2 in (95 %) · frame not stated"],
  ["5 min ahead", says({ ahead: 300 }), "doubt: RTK fixed | time 5 min ahead · within 1.2 in (95 %) · frame not stated"],
  ["behind and silent", says({ ahead: -7200 }, 6000), "fading: Came 6 s ago: RTK fixed | time 2 h behind · within 1.2 in (95 %) · frame not stated"],
  ["behind and no fix", says({ ahead: -7200 }, 0, "No fix."), "fading: Came just now: RTK fixed | time 2 h behind · No fix."],
  ["behind and old", says({ ahead: -7200 }, 40_000), "old: Last position: came 40 s ago. | No newer position has come. The hollow mark is the last one."],
  ["implausible", says(wrong), "fresh: Satellites without corrections | stated error implausible for this kind of fix · now"],
  ["recorded: no age of its own", says({ recorded: true, live: false }), "not-live: RECORDED · RTK fixed | within 1.2 in (95 %) · frame not stated"],
  ["a recording that has ended is no “now” either", says({ recorded: true, live: false }, 0, "The recording has ended."), "not-live: RECORDED · RTK fixed | within 1.2 in (95 %) · The recording has ended. · frame not stated"],
  ["simulated", says({ kind: "simulator", live: false, ahead: -60 }), "not-live: Not live: made up by a simulator | time 60 s behind · within 1.2 in (95 %)"],
]);

test("what is late or comes with old corrections never reads now, in the bar, its sheet or aloud", () => {
  for (const more of [old, { ahead: -7200 }, { ahead: 10 }, { ahead: -10 }]) {
    for (const kind of ["rtk-fixed", "rtk-float", "differential", "autonomous"]) {
      const s = fix({ ...more, kind });
      const text = bar.barText("receiver", { fix: s, trouble: "" }, "us", now);
      assert.doesNotMatch(`${text.head} ${text.rest} ${fixes.whenText(s, now)}`.replace("just now", ""), /\bnow\b/);
      assert.equal(fixes.freshness(s, "", now), "fading");
    }
  }
});

// 1.436 m is 4.71 ft.
table("the frame", [
  ["not stated", frame.frameText(fix({ nad83: 1.436 }), "us"), "The position is in the frame of its base: not stated. NAD83 base: about 5 ft from this map. The circle holds in that frame."],
  ["metric", frame.frameText(fix({ nad83: 1.436, error: 0 }), "metric"), "The position is in the frame of its base: not stated. NAD83 base: about 1.4 m from this map."],
  ["stated", frame.frameText(fix({ nad83: 1.436, frame: "NAD83(2011)" }), "us"), "The position is in NAD83(2011), as stated to the laptop. NAD83 base: about 5 ft from this map. The circle holds in that frame."],
  ["the map's own", frame.frameText(fix({ nad83: 1.436, frame: "WGS 84 (G2139)" }), "us"), "The position is in WGS 84 (G2139), as stated to the laptop. This map is in WGS 84 too. The circle holds in that frame."],
  ["away from North America", frame.frameText(fix({ error: 0 }), "us"), "The position is in the frame of its base: not stated. How far that frame is from this map is not known here."],
  ["no corrections", frame.frameText(fix({ kind: "autonomous", frame: "NAD83(2011)" }), "us"), "WGS 84, as the satellites send it."],
  ["by hand", frame.frameText(fix({ kind: "manual" }), "us"), ""],
]);

// A step of the fifth digit is 1.1 m of latitude.
table("digits of a place", [
  ["not told", fixes.degreeDigits(0), 5], ["1 m", fixes.degreeDigits(1), 5], ["3 cm", fixes.degreeDigits(0.03), 7], ["45 ft", fixes.degreeDigits(13.5), 4],
  ["2 km", fixes.degreeDigits(2000), 2], ["8 mm", fixes.degreeDigits(0.008), 8], ["nothing finer than 1.1 mm", fixes.degreeDigits(0.0001), 8],
]);

table("words of a kind", [
  ["fixed", fixes.headText(fix({})), "RTK fixed"],
  ["float is never called fixed", fixes.headText(fix({ kind: "rtk-float" })), "RTK float, not settled"],
  ["recorded", fixes.headText(fix({ recorded: true, live: false })), "RECORDED · RTK fixed"],
  ["simulated", fixes.headText(fix({ kind: "simulator", live: false })), "Not live: made up by a simulator"],
  ["unknown", fixes.headText(fix({ kind: "unknown", live: false })), "Not live: kind of fix unknown"],
]);

test("what is not live has a mark beside it, what is live has none", () => {
  for (const kind of ["rtk-fixed", "rtk-float", "differential", "autonomous", "phone"]) {
    assert.equal(fixes.markerText(fix({ kind })), "");
    assert.notEqual(fixes.markerText(fix({ kind, live: false })), "");
  }
  for (const kind of ["unknown", "estimated", "manual", "simulator"]) assert.notEqual(fixes.markerText(fix({ kind, live: false })), "");
  assert.equal(fixes.markerText(fix({ recorded: true, live: false })), "RECORDED");
});

table("freshness", [
  ["new", fixes.freshness(fix({}), "", now), "fresh"],
  ["5 s", fixes.freshness(fix({}), "", now + 5_000), "fresh"],
  ["just over", fixes.freshness(fix({}), "", now + 5_001), "fading"],
  ["the receiver has none now", fixes.freshness(fix({}), "no fix", now), "fading"],
  ["30 s", fixes.freshness(fix({}), "", now + 30_001), "old"],
  ["a clock that was set back a little", fixes.freshness(fix({}), "", now - 900), "fresh"],
  ["a clock that was set back: it may be any age", fixes.freshness(fix({}), "", now - 60_000), "old"],
]);

table("ages", [
  ["now", fixes.agoText(999), "now"], ["after the clock was set back", fixes.agoText(fixes.ageOf(fix({}), now - 60_000)), "age unknown"], ["seconds", fixes.agoText(59_900), "59 s ago"], ["minutes", fixes.agoText(130_000), "2 min ago"],
  ["hours", fixes.agoText(3 * 3600e3), "3 h ago"], ["days", fixes.agoText(50 * 3600e3), "2 days ago"], ["1024 weeks", fixes.durationText(-7168 * 86_400), "19 years"],
]);

// Published lines: three short ones of C. Karney's test set for geodesics, the line from
// Flinders Peak to Buninyong of Geoscience Australia, and Land's End to John o' Groats; then,
// reckoned by GeodSolve (GeographicLib), JFK to Heathrow, one degree of the equator and of
// the meridian, and a short way over the 180th.
test("the geodesic to a position", () => {
  for (const [from, to, metres, bearing] of [
    [[0, 19.707097385334], [0.000260256428101053, 19.707739582810257], 76.1478894, 20.996796804557],
    [[0, 23.104245923137], [0.002305237470119087, 23.103520430280492], 249.4508219, 108.788775202534],
    [[0, 78.10174623178], [0.014156770744057927, 78.099711031638792], 397.364659, 124.870465352256],
    [[144.424867888889, -37.951033416667], [143.926495527778, -37.652821138889], 54972.271, 306.868158],
    [[-5.71475, 50.06632], [-3.07009, 58.64402], 969954.166, 9.141877],
    [[-73.8, 40.6], [-0.5, 51.6], 5551759.4, 51.19888285],
    [[0, 0], [1, 0], 111319.491, 90], [[0, 0], [0, 1], 110574.389, 0], [[179.999, 10], [-179.999, 10], 219.279, 90],
  ]) {
    const got = ground.inverse(from, to);
    assert.ok(Math.abs(got.metres - metres) < 0.06, `${from} to ${to}: ${got.metres} m, want ${metres}`);
    assert.ok(Math.abs(got.bearing - bearing) < 1e-3, `${from} to ${to}: ${got.bearing} degrees`);
  }
});

test("a circle has its metres on the ground in every direction", () => {
  for (const [lat, metres] of [[0, 5], [40.5, 0.02], [-33, 1500], [70, 13.5]]) {
    const all = ground.circleAround([-140.5, lat], metres);
    assert.deepEqual(all[0], all[all.length - 1]);
    for (const p of all) {
      const got = ground.inverse([-140.5, lat], p).metres;
      assert.ok(Math.abs(got / metres - 1) < 1e-6, `${lat}: ${got} m, want ${metres}`);
    }
  }
});
