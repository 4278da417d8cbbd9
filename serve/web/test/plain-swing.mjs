// Swing ties: where two arcs meet, the angle of their cut, and how far off the spot may be.
import assert from "node:assert/strict";
import test from "node:test";
import { load, table } from "./load.mjs";

const { swing, cutAngle, isWeakCut, errorEllipse } = await load("shared/coords/swing.ts");
const { direct, inverse } = await load("shared/coords/geodesic.ts");

const near = (got, wanted, off, what = "") => assert.ok(Math.abs(got - wanted) <= off, `${what} ${got}, wanted ${wanted}`);
const apart = (a, b) => inverse(a, b).metres;
/** The same numbers in every run. */
function numbers(seed) {
  let s = seed;
  return (from, to) => {
    s = (s * 48271) % 2147483647;
    return from + (to - from) * (s / 2147483647);
  };
}

// Heron's triangle of 13, 14 and 15: over the side of 14 it is 12 high, 5 from one end and 9 from the other.
test("swing: Heron's triangle of 13, 14 and 15 m", () => {
  const a = [-105, 40];
  const b = direct(a, 90, 14).at;
  const [left, right] = swing(a, 13, b, 15);
  const foot = direct(a, 90, 5);
  near(apart(left, direct(foot.at, foot.bearing - 90, 12).at), 0, 1e-6);
  near(apart(right, direct(foot.at, foot.bearing + 90, 12).at), 0, 1e-6);
  // By the law of cosines: (13² + 15² − 14²) / (2 · 13 · 15) = 33/65.
  near(cutAngle(a, left, b), Math.acos(33 / 65) * (180 / Math.PI), 1e-3);
});
test("swing: two ties give a known target back, on its side", () => {
  const n = numbers(7);
  for (let i = 0; i < 500; i++) {
    const target = [n(-180, 180), n(-80, 80)];
    const [a, b] = [n(0, 360), n(0, 360)].map((bearing) => direct(target, bearing, n(1, 300)).at);
    const cut = cutAngle(a, target, b);
    if (cut < 5 || cut > 175) continue; // the flatter the cut, the farther off a micrometer is
    const both = swing(a, apart(a, target), b, apart(b, target));
    const turn = Math.sin((inverse(a, target).bearing - inverse(a, b).bearing) * (Math.PI / 180));
    near(apart(both[turn < 0 ? 0 : 1], target), 0, 2e-5, `${target} ${a} ${b}`);
    for (const p of both) [near(apart(p, a), apart(a, target), 1e-6), near(apart(p, b), apart(b, target), 1e-5)];
  }
});
const [a, b] = [[-105, 40], direct([-105, 40], 90, 14).at];
table("swing: arcs that do not meet", [
  ["too short", swing(a, 5, b, 5), null],
  ["one inside the other", swing(a, 30, b, 5), null],
  ["two ties at one place", swing(a, 5, a, 5), null],
  ["no distance", swing(a, 0, b, 14), null],
]);
table("weak cuts", [
  ["29.9° is weak", isWeakCut(29.9), true], ["30° is not", isWeakCut(30), false],
  ["150° is not", isWeakCut(150), false], ["151° is", isWeakCut(151), true],
]);

test("ellipse: square and equal is a circle, √2 of the doubt", () => {
  const e = errorEllipse({ bearing: 10, doubt: 0.1 }, { bearing: 100, doubt: 0.1 });
  near(e.long, 0.1 * Math.SQRT2, 1e-9);
  near(e.short, 0.1 * Math.SQRT2, 1e-9);
});
// Two equal errors s at a cut of g have the standard half-axes s/(√2 sin(g/2)) and s/(√2 cos(g/2)), here times √2.
test("ellipse: a weak cut is long across the tapes", () => {
  const e = errorEllipse({ bearing: -10, doubt: 0.1 }, { bearing: 10, doubt: 0.1 });
  near(e.long, 0.1 / Math.sin((10 * Math.PI) / 180), 1e-9);
  near(e.short, 0.1 / Math.cos((10 * Math.PI) / 180), 1e-9);
  near(e.bearing, 90, 1e-6);
});
test("ellipse: no spot that fits both doubts is outside, and the corners are on it", () => {
  const n = numbers(11);
  for (let i = 0; i < 300; i++) {
    const one = { bearing: n(0, 360), doubt: n(0.01, 3) };
    const two = { bearing: one.bearing + n(2, 178), doubt: n(0.01, 3) };
    const e = errorEllipse(one, two);
    const unit = (bearing) => [Math.cos((bearing * Math.PI) / 180), Math.sin((bearing * Math.PI) / 180)];
    const [[n1, e1], [n2, e2]] = [unit(one.bearing), unit(two.bearing)];
    const det = n1 * e2 - e1 * n2;
    for (const sign of [-1, 1]) {
      const [u, v] = [one.doubt, two.doubt * sign];
      const [north, east] = [(u * e2 - v * e1) / det, (v * n1 - u * n2) / det];
      const [c, s] = unit(e.bearing);
      near(((north * c + east * s) / e.long) ** 2 + ((east * c - north * s) / e.short) ** 2, 1, 1e-6);
      assert.ok(Math.hypot(north, east) <= e.long * (1 + 1e-9));
    }
  }
});
