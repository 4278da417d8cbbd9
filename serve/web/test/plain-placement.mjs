// Checks what lies where on the map: nothing on a reading's dot, labels plainly at their own dot,
// flags wherever their line is in sight, and ticks in the middle of dashes.
import assert from "node:assert/strict";
import test from "node:test";
import { bundle, load, table } from "./load.mjs";

globalThis.document ??= { createElement: () => ({ getContext: () => null }) };
const { Feature, LineIndex, LineString, flagsAtRest, pathsOf, place } = await bundle(`
  export { default as Feature } from "ol/Feature";
  export { default as LineString } from "ol/geom/LineString";
  export { LineIndex } from "./shared/records/lineindex";
  export { pathsOf } from "./shared/records/path";
  export { place } from "./shared/records/placed";
  export { flagsAtRest } from "./shared/records/flagplaces";
`);
const { boxOf } = await load("shared/records/boxes.ts");
const { flagBox, crossingRadius } = await load("shared/records/derivedmarks.ts");
const { labelLeader, leaderBoxes } = await load("shared/records/leaders.ts");
const { rhythmOf } = await load("shared/records/ticks.ts");
const { LetterPlaces } = await load("shared/records/letters.ts");
const { Placement } = await load("shared/records/labelplacement.ts");
const { pathOf } = await load("shared/records/path.ts");

let seed = 11;
const random = () => (seed = (seed * 48271) % 2147483647) / 2147483647;
const away = ([left, top, right, bottom], { x, y }) => Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom));
const lineOf = (...at) => new Feature(new LineString(at));

/** A site: two mains along it and one across, readings on them, as on a street; crossings and entering lines. */
function site() {
  const utilities = ["water", "gas", "sewer"];
  const mains = utilities.map((utility, k) => ({ utility, line: lineOf([k * 22 + random() * 8, -200], [k * 22 + random() * 8, 200]) }));
  const service = { utility: "water", line: lineOf([-60, random() * 40], [90, random() * 40]) };
  const all = [...mains, service];
  const readings = all.flatMap(({ utility, line }, record) => {
    const [from, to] = line.getGeometry().getCoordinates();
    const n = 4 + Math.floor(random() * 12);
    return Array.from({ length: n }, (_, i) => {
      const t = (i + random() * 0.5) / n;
      return [new Feature({}), from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1]), record, "W 3′ 4″", false, utility];
    });
  });
  // Crossings where the service crosses the mains, and now and then right on a reading.
  const [a, b] = service.line.getGeometry().getCoordinates();
  const crossings = mains.map(({ line }, i) => {
    const x = line.getGeometry().getCoordinates()[0][0];
    return [new Feature(), i === 1 ? readings[3].slice(1, 3) : [x, a[1] + ((x - a[0]) / (b[0] - a[0])) * (b[1] - a[1])]];
  });
  return { readings, crossings, flags: all.map((one) => one.line), lines: new LineIndex(all.map((one) => [one.line, one.utility])) };
}
const placed = (s, resolution) => place(resolution, 1, s.readings, s.crossings, s.flags, s.lines);

/** All that lies over the map, as boxes and circles, with what it belongs to. */
function coversOf(p, resolution) {
  const labels = [...p.points.values()].filter((one) => one.label !== null);
  return {
    labels: labels.map((one) => ({ box: boxOf(one.label, one.width, one.dot), one })),
    leaders: labels.filter((one) => one.label.led).flatMap((one) => labelLeader(one.label, one.width, one.dot)),
    circles: [...p.crossings.values()].filter((c) => c.place).map((c) => ({ x: c.x / resolution + c.place.to[0], y: -c.y / resolution + c.place.to[1], c })),
    flags: [...new Set([...p.flags.values()].filter(Boolean))].map((f) => flagBox(f.at[0] / resolution, -f.at[1] / resolution, f.to)),
  };
}

test("no number, flag, depth, letter or leader lies on a reading's dot, at any zoom", () => {
  let [numbers, led, depths] = [0, 0, 0];
  for (let round = 0; round < 12; round++) {
    const s = site();
    for (const resolution of [2, 1, 0.5, 0.25, 0.12]) {
      const p = placed(s, resolution);
      const letters = s.flags.flatMap((f) => pathsOf(f.getGeometry()).flatMap((path, i) => p.letters.on(f, i, path, [{ from: 0, to: path.length }], { width: 20, height: 19, every: 150 })));
      const { labels, leaders, circles, flags } = coversOf(p, resolution);
      const boxes = [...labels.map((l) => l.box), ...leaders, ...flags, ...letters.map(({ x, y }) => [x / resolution - 10, -y / resolution - 9, x / resolution + 10, -y / resolution + 9])];
      for (const { dot, radius } of p.points.values()) {
        if (radius === 0) continue;
        for (const box of boxes) assert.ok(away(box, dot) >= dot.radius - 1e-6, `a dot is covered at ${resolution}`);
        for (const c of circles) assert.ok(Math.hypot(c.x - dot.x, c.y - dot.y) >= dot.radius + crossingRadius - 1e-6, `a number lies on a dot at ${resolution}`);
      }
      for (const { c } of circles) {
        const [u, v] = c.place.to;
        numbers++;
        if (u === 0 && v === 0) continue;
        led++;
        const way = leaderBoxes(c.x / resolution, -c.y / resolution, [u, v], c.place.from, Math.hypot(u, v) - crossingRadius);
        assert.ok(way.length > 0, "no leader is seen");
        for (const { dot, radius } of p.points.values()) for (const box of way) assert.ok(radius === 0 || away(box, dot) >= dot.radius - 1e-6, "a leader lies on a dot");
      }
      depths += labels.length;
    }
  }
  assert.ok(numbers > 60 && led > 20 && depths > 300, `${numbers} numbers, ${led} of them led, ${depths} depths`);
});

test("a depth without a leader touches its dot and is far from every other; one with a leader is clear of others", () => {
  for (let round = 0; round < 12; round++) {
    const s = site();
    for (const resolution of [1, 0.5, 0.25]) {
      const p = placed(s, resolution);
      for (const { box, one } of coversOf(p, resolution).labels) {
        const own = away(box, one.dot) - one.dot.radius;
        assert.equal(own > 1, one.label.led, `${own} pixels from its dot`);
        for (const other of p.points.values()) {
          if (other === one || other.radius === 0 || Math.hypot(other.dot.x - one.dot.x, other.dot.y - one.dot.y) < 1) continue;
          assert.ok(away(box, other.dot) - other.dot.radius >= (one.label.led ? 5 : 12) - 1e-6, "as near to another dot");
        }
      }
    }
  }
});

test("a depth lies over another utility's line only where no free place is near", () => {
  const main = lineOf([0, -500], [0, 500]);
  const other = (x) => lineOf([x, -500], [x, 500]);
  const [water, gas, sewer] = [main, other(-30), other(30)];
  const lines = new LineIndex([[water, "water"], [gas, "gas"], [sewer, "sewer"]]);
  const p = place(1, 1, [[new Feature({}), 0, 0, 0, "W 3′ 4″", false, "water"]], [], [], lines);
  const [{ label, width, dot }] = p.points.values();
  const [left, , right] = boxOf(label, width, dot);
  assert.ok(label.led && (right < -30 || left > 30), `from ${left} to ${right}`);
});

test("what a crew adds is covered by no number, flag, depth or leader, and is no dot of a record", () => {
  for (let round = 0; round < 8; round++) {
    const s = site();
    const added = Array.from({ length: 12 }, (_, i) => (i % 3 === 0 ? s.readings[i].slice(1, 3) : [random() * 60, random() * 300 - 150]).concat(15));
    for (const resolution of [1, 0.5, 0.2]) {
      const p = place(resolution, 1, s.readings, s.crossings, s.flags, s.lines, added);
      const { labels, leaders, circles, flags } = coversOf(p, resolution);
      const boxes = [...labels.map((l) => l.box), ...leaders, ...flags];
      for (const [x, y, radius] of added) {
        // Of those at nearly one place one counts.
        const dot = { x: x / resolution, y: -y / resolution };
        for (const box of boxes) assert.ok(away(box, dot) >= radius - 6, `covered at ${resolution}`);
        for (const c of circles) assert.ok(Math.hypot(c.x - dot.x, c.y - dot.y) >= radius + crossingRadius - 6, `a number covers it at ${resolution}`);
      }
      const [x, y] = added[0];
      assert.ok(p.placement.hasDot({ x: x / resolution, y: -y / resolution }, 15));
    }
    const alone = place(1, 1, [], [], [], s.lines, added);
    assert.ok(!alone.placement.hasDot({ x: added[1][0], y: -added[1][1] }, 15));
  }
});

test("words that lie over the map keep depths, numbers and leaders away over their whole width, also below their place", () => {
  for (let round = 0; round < 8; round++) {
    const s = site();
    const words = Array.from({ length: 6 }, () => [random() * 60, random() * 300 - 150, 14, 46, 26]);
    const { labels, leaders, circles, flags } = coversOf(place(1, 1, s.readings, s.crossings, s.flags, s.lines, words), 1);
    const boxes = [...labels.map((l) => l.box), ...leaders, ...flags];
    for (const [x, y] of words) {
      for (const dx of [-32, -16, 0, 16, 32]) {
        const at = { x: x + dx, y: -y + 26 };
        for (const box of boxes) assert.ok(away(box, at) >= 4, `covered ${dx} beside the middle`);
        for (const c of circles) assert.ok(Math.hypot(c.x - at.x, c.y - at.y) >= crossingRadius, `a number covers it ${dx} beside the middle`);
      }
    }
  }
});

test("the only depth of a record gives way to none of the many of another; a dot without its number is known", () => {
  const many = Array.from({ length: 40 }, (_, i) => [new Feature({}), i * 34, (i % 2) * 30, 0, "W 3′ 4″", false, "water"]);
  const one = [new Feature({}), 10.5 * 34, 15 - 60, 1, "S 9′ 2″", false, "sewer"];
  const p = place(1, 1, [...many, one], [], [], new LineIndex([]));
  assert.ok(p.points.get(one[0]).label !== null);
  for (const before of [0, 1]) {
    const rows = Array.from({ length: 30 }, (_, i) => [new Feature({}), i * 25, before, 0, "W 3′ 4″", false, "water"]);
    const deepest = [new Feature({}), 14.5 * 25, 24, 1, "S 9′ 2″", false, "sewer"];
    const q = place(1, 1, [...rows, deepest], [], [], new LineIndex([]));
    assert.ok(q.points.get(deepest[0]).label !== null, "the deepest has its number");
    for (const r of q.points.values()) assert.ok(r.deep);
    assert.ok([...q.points.values()].some((r) => r.label === null && r.deep), "others are known to have one");
  }
});

test("ticks of a line, such as those of its state, give way to a depth", () => {
  const p = place(1, 1, [[new Feature({}), 0, 0, 0, "W 3′ 4″", false, "water"]], [], [], new LineIndex([]));
  const [{ label, width, dot }] = p.points.values();
  const [left, top, right, bottom] = boxOf(label, width, dot);
  assert.ok(!p.letters.hasTicks((left + right) / 2, -(top + bottom) / 2, 6));
  assert.ok(!p.letters.hasTicks(right + 3, -(top + bottom) / 2, 6), "beside it, half under it");
  assert.ok(p.letters.hasTicks(right + 30, -(top + bottom) / 2, 6));
});

test("a flag is shown at every zoom; the flags of one spot are one with their number", () => {
  for (let round = 0; round < 8; round++) {
    const s = site();
    for (const resolution of [8, 4, 2, 1, 0.5, 0.2]) {
      const { flags } = placed(s, resolution);
      assert.equal(flags.size, s.flags.length);
      const shown = [...new Set(flags.values())];
      assert.ok(!shown.includes(null), `one is hidden at ${resolution}`);
      assert.equal(shown.reduce((sum, f) => sum + f.lines, 0), s.flags.length);
    }
  }
});

test("at rest a flag stands where its line is in sight, uncut", () => {
  const s = site();
  const resolution = 0.1;
  const p = placed(s, resolution);
  for (const [x, y] of [[0, 150], [22, -170], [44, 190], [80, 20]]) {
    const view = [x / resolution - 195, -y / resolution - 300, x / resolution + 195, -y / resolution + 300];
    const moved = flagsAtRest(p.flags, { view, covers: [[view[0], view[3] - 60, view[2], view[3]]] }, { ...p, unit: resolution });
    for (const f of s.flags) {
      const seen = pathsOf(f.getGeometry()).some((path) => Array.from({ length: 400 }, (_, i) => i / 400).some((t) => {
        const [px, py] = [(path.x[0] + t * (path.x[1] - path.x[0])) / resolution, -(path.y[0] + t * (path.y[1] - path.y[0])) / resolution];
        return px > view[0] + 8 && px < view[2] - 8 && py > view[1] + 8 && py < view[3] - 70;
      }));
      if (!seen) continue;
      const at = moved.has(f) ? moved.get(f) : p.flags.get(f);
      assert.ok(at, "a flag is hidden");
      const [left, top, right, bottom] = flagBox(at.at[0] / resolution, -at.at[1] / resolution, at.to);
      assert.ok(left >= view[0] && top >= view[1] && right <= view[2] && bottom <= view[3] - 60, `cut: ${[left, top, right, bottom]} in ${view}`);
    }
  }
});

const stroke = (at) => ({ at, length: 6, lean: 0, left: true, right: true });
const spot = (at) => ({ at, length: 0, lean: 0, left: true, right: true });
const rhythm = (ticks, every, dash) => {
  const { period, ticks: all } = rhythmOf(ticks, every, dash);
  const step = dash[0] + dash[1];
  return [Math.round((period / step) * 1e6) / 1e6 % 1, all.map(([at, t]) => [t.length > 0 ? "stroke" : "dot", Math.round((((at % step) + step) % step) * 10) / 10])];
};
table("ticks and dashes", [
  ["a stroke is in the middle of a dash", rhythm([stroke(0)], 36, [15, 8]), [0, [["stroke", 7.5]]]],
  ["two strokes stay as far apart as they are", rhythm([stroke(0), stroke(5)], 44, [26, 8]), [0, [["stroke", 13], ["stroke", 18]]]],
  ["dots at both hands of a stroke are in the gaps", rhythm([spot(0), stroke(8), spot(16)], 48, [7, 7]), [0, [["dot", 10.5], ["stroke", 3.5], ["dot", 10.5]]]],
  ["two dots are in two gaps", rhythmOf([spot(0), spot(8)], 44, [7, 7]).ticks.map(([at]) => at), [24.5, 38.5]],
  ["a line of dots has no dots between its own", rhythm([spot(0), spot(8)], 44, [0.1, 9])[1], []],
  ["an unbroken line has them as they are", rhythmOf([stroke(0), stroke(5)], 44, []), { period: 44, ticks: [[22, stroke(0)], [27, stroke(5)]] }],
]);

test("a word that the edge would cut is moved along its line, or left out; a letter stays", () => {
  const path = pathOf([0, 0, 1200, 0], 0, 4, 2);
  const word = { width: 120, height: 19, every: 600, along: true };
  const placement = new Placement();
  const places = new LetterPlaces(placement, 1);
  const f = {};
  const on = () => places.on(f, 0, path, [{ from: 0, to: 1200 }], word);
  assert.deepEqual(on().map((l) => l.x), [300, 900]);
  const sight = (left, right) => ({ view: [left, -200, right, 200], covers: [] });
  assert.equal(places.keepClear(sight(280, 700)), true);
  const [moved] = on();
  assert.ok(moved.x - 66 >= 280 && moved.x + 66 <= 600, `at ${moved.x}`);
  assert.equal(places.keepClear(sight(280, 700)), false, "it moves again");
  places.keepClear(sight(260, 340));
  assert.deepEqual(on().map((l) => l.x), [], "a word is cut");
  places.keepClear(sight(0, 1200));
  assert.deepEqual(on().map((l) => l.x), [300, 900]);
});
