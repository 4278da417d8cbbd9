// Checks where marks stand, how large dots are, what of a line is drawn, and that the legend has all.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import test from "node:test";
import { bundle, load, table } from "./load.mjs";

const { GridIndex, besideDot, boxOf, labelBox, labelHeight, sides } = await load("shared/records/boxes.ts");
const { Placement } = await load("shared/records/labelplacement.ts");
const { sizesOf, dotEdge } = await load("shared/records/dots.ts");
const { denseSpans, pathOf, runsOn, runsWithin, trace, placeAt } = await load("shared/records/path.ts");
const { LetterPlaces } = await load("shared/records/letters.ts");

const radius = 8 + dotEdge;
const sideNamed = (dot, width, label) => (label === null ? null : label.led ? "led" : sides.find((side) => {
  const beside = besideDot(dot, width, side);
  return beside.left === label.left && beside.top === label.top;
}));
/** Places labels of some width beside dots, as the map does; marks with a radius of their own are others. */
function placeLabels(marks) {
  const placement = new Placement();
  const dots = marks.map(({ x, y, radius: other }) => ({ x, y, radius: other ?? radius, other: other !== undefined }));
  dots.forEach((d) => placement.addDot(d));
  return marks.map(({ width }, i) => (width === 0 ? null : sideNamed(dots[i], width, placement.label(dots[i], width))));
}

const label = 50;
table("depth labels", [
  ["alone: right", placeLabels([{ x: 0, y: 0, width: label }]), ["right"]],
  ["a dot to the right: left", placeLabels([{ x: 0, y: 0, width: label }, { x: 40, y: 0, width: 0 }]), ["left", null]],
  ["dots on both hands: above", placeLabels([{ x: 0, y: 0, width: label }, { x: 50, y: 0, width: 0 }, { x: -50, y: 0, width: 0 }]), ["above", null, null]],
  ["and above: below", placeLabels([[0, 0], [50, 0], [-50, 0], [0, -40]].map(([x, y], i) => ({ x, y, width: i ? 0 : label }))), ["below", null, null, null]],
  ["dots so near that it would touch two: with a line", placeLabels([{ x: 0, y: 0, width: label }, { x: 30, y: 0, width: 0 }, { x: -30, y: 0, width: 0 }]), ["led", null, null]],
  ["no side left: with a line", placeLabels([[0, 0], [50, 0], [-50, 0], [0, -40], [0, 40]].map(([x, y], i) => ({ x, y, width: i ? 0 : label }))), ["led", null, null, null, null]],
  ["half under another dot: left out", placeLabels([{ x: 0, y: 0, width: label }, { x: 6, y: 6, width: 0 }]), [null, null]],
  ["clear of a crossing's mark", placeLabels([{ x: 0, y: 0, width: label }, { x: 40, y: 20, width: 0, radius: 15 }]), ["left", null]],
  ["a crossing on the dot itself leaves it its label, on the side that is clear of both", placeLabels([{ x: 0, y: 0, width: label }, { x: 2, y: 0, width: 0, radius: 9 }]), ["left", null]],
  ["two at one place", placeLabels([{ x: 0, y: 0, width: label }, { x: 0, y: 0, width: label }]), ["right", "left"]],
]);

let seed = 7;
const random = () => (seed = (seed * 48271) % 2147483647) / 2147483647;

test("depth labels: none covers a dot or another label", () => {
  for (let round = 0; round < 40; round++) {
    const marks = Array.from({ length: 60 }, () => ({ x: random() * 700 - 350, y: random() * 700 - 350, width: random() < 0.2 ? 0 : 40 + random() * 40 }));
    const boxes = placeLabels(marks).flatMap((side, i) => (side === null || side === "led" ? [] : [labelBox({ ...marks[i], radius }, marks[i].width, side)]));
    assert.ok(boxes.length > 5, "hardly any label found a place");
    for (const [i, a] of boxes.entries()) {
      assert.equal(Math.round(a[3] - a[1]), labelHeight);
      for (const m of marks) assert.ok(m.x <= a[0] - 1 || m.x >= a[2] + 1 || m.y <= a[1] - 1 || m.y >= a[3] + 1, "a dot is covered");
      for (const b of boxes.slice(i + 1)) assert.ok(a[0] >= b[2] || b[0] >= a[2] || a[1] >= b[3] || b[1] >= a[3], "labels overlap");
    }
  }
});

test("a label is on each side in turn, clear of its dot", () => {
  for (const side of sides) {
    const [left, top, right, bottom] = labelBox({ x: 0, y: 0, radius }, 40, side);
    assert.ok(left >= radius || right <= -radius || top >= radius || bottom <= -radius, side);
  }
});

const beside = (costs, elsewhere = Infinity) => {
  const placement = new Placement();
  const dot = { x: 0, y: 0, radius };
  placement.addDot(dot);
  const costsOf = (boxes) => boxes.map((box) => {
    const side = sides.findIndex((one) => labelBox(dot, label, one).every((v, i) => Math.abs(v - box[i]) < 1e-6));
    return side < 0 ? elsewhere : costs[side];
  });
  return sideNamed(dot, label, placement.label(dot, label, costsOf));
};
table("depth labels, and the lines under them", [
  ["nothing is covered: right", beside([0, 0, 0, 0]), "right"],
  ["another's line at the right", beside([8, 0, 0, 0]), "left"],
  ["others' lines on both hands: on its own line", beside([8, 8, 2.5, 2.5]), "above"],
  ["on all sides: on the fewest", beside([16, 8, 16, 16]), "left"],
  ["ruled out", beside([Infinity, Infinity, Infinity, 0]), "below"],
  ["others' lines on all sides, and free ground near: led there", beside([40, 40, 40, 40], 0), "led"],
  ["its own line, and free ground near: on its own line", beside([40, 40, 2.5, 2.5], 0), "above"],
  ["ruled out everywhere: hidden", beside([Infinity, Infinity, Infinity, Infinity]), null],
]);
test("a label touches its dot", () => {
  for (const side of sides) {
    const [left, top, right, bottom] = labelBox({ x: 0, y: 0, radius }, label, side);
    const away = Math.hypot(Math.max(left, 0, -right), Math.max(top, 0, -bottom)) - radius;
    assert.ok(away >= 0 && away < 1, `${side}: ${away}`);
  }
});

const { isSeen, movedLabel } = await load("shared/records/edgelabels.ts");
const sight = { view: [0, 0, 390, 600], covers: [[200, 540, 390, 600]] };
const edge = (x, y, width = label, isFree = () => true) => {
  const dot = { x, y, radius };
  const to = movedLabel(dot, width, sight, isFree);
  return to && { side: sideNamed(dot, width, to) ?? (to.led ? "led" : "?"), seen: isSeen(boxOf(to, width, dot), sight) };
};
const away = (x, y) => ([left, top, right, bottom]) => Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom)) >= radius;
table("depth labels at the edge of what is seen", [
  ["at the right edge: left", edge(370, 300), { side: "left", seen: true }],
  ["at the left edge: right", edge(12, 300), { side: "right", seen: true }],
  ["beside what lies over the map", edge(195, 550), { side: "left", seen: true }],
  ["over a bar: above", edge(300, 535), { side: "above", seen: true }],
  ["in a corner: inwards, with a line", edge(5, 5, 70, ([l, t, r, b]) => (r - l < 10 || t > 24) && away(5, 5)([l, t, r, b])), { side: "led", seen: true }],
  ["in a corner, and the way there crosses another dot: hidden", edge(5, 5, 70, ([l, , r]) => r - l > 10), null],
  ["no room: hidden", edge(370, 300, label, () => false), null],
]);
test("depth labels at the edge: none is ever cut, and a line leads to each that does not touch its dot", () => {
  for (let x = 0; x <= 390; x += 6) {
    for (let y = 0; y <= 600; y += 6) {
      const dot = { x, y, radius };
      const to = movedLabel(dot, 84, sight, (box) => away(x, y)(box));
      if (to === null) continue;
      const [left, top, right, bottom] = boxOf(to, 84, dot);
      assert.ok(left >= 0 && top >= 0 && right <= 390 && bottom <= 600 && (right <= 200 || bottom <= 540), `cut at ${x}, ${y}`);
      const gap = Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom)) - radius;
      assert.equal(to.led, gap > 1, `${gap} pixels from the dot at ${x}, ${y}`);
    }
  }
});

const { Feature, LineIndex, LineString } = await bundle(`
  export { default as Feature } from "ol/Feature";
  export { default as LineString } from "ol/geom/LineString";
  export { LineIndex } from "./shared/records/lineindex";
`);
test("whose lines a box covers", () => {
  const line = (...at) => new Feature(new LineString(at));
  const zigzag = Array.from({ length: 60 }, (_, i) => [i * 10, i % 2 ? 200 : 210]);
  const index = new LineIndex([[line([-100, 0], [100, 0]), "water"], [line([0, -100], [0, 100]), "gas"], [line(...zigzag), "sewer"]]);
  const covered = (...boxes) => index.utilitiesIn(boxes).map((s) => [...s].sort().join());
  assert.deepEqual(covered([-1, -1, 1, 1], [5, -1, 9, 1], [5, 5, 9, 9], [-2, 50, 2, 60]), ["gas,water", "water", "", "gas"]);
  assert.deepEqual(covered([301, 201, 304, 209]), ["sewer"]);
  assert.deepEqual(covered([2, 5, 900, 199]), [""]);
});

test("of close readings every second or third has its depth, of dense ones it covers no other's line; flags and crossings are never covered", async () => {
  globalThis.document ??= { createElement: () => ({ getContext: () => null }) };
  const { Feature: Point, LineIndex: Lines, LineString: Line, place } = await bundle(`
    export { default as Feature } from "ol/Feature";
    export { default as LineString } from "ol/geom/LineString";
    export { LineIndex } from "./shared/records/lineindex";
    export { place } from "./shared/records/placed";
  `);
  const placed = (step, n, lines, crossings = [], flags = []) => {
    const all = Array.from({ length: n }, (_, i) => [new Point({ kind_as_read: "" }), i * step, 0, 0, "W 3′ 4″", false, "water"]);
    return place(1, 1, all, crossings, flags, new Lines(lines));
  };
  const labels = (p) => [...p.points.values()].map((one) => one.label !== null);
  assert.deepEqual(labels(placed(200, 4, [])), [true, true, true, true]);
  const dense = labels(placed(13, 12, []));
  assert.ok(dense.some((on) => on), "none has its depth");
  assert.ok(dense.every((on, i) => !on || i % 3 === 0), dense.join());
  const second = labels(placed(20, 12, []));
  assert.ok(second.filter((on) => on).length >= 4 && second.every((on, i) => !on || i % 2 === 0), second.join());
  const beside = [30, -30].map((y) => [new Point(new Line([[-900, y], [900, y]])), "gas"]);
  assert.deepEqual(labels(placed(200, 2, beside)).length, 2);
  assert.ok([...placed(13, 12, beside).points.values()].every(({ label, dot }) => label === null || !(dot.y + label.top < 30 && dot.y + label.top + 26 > 30)), "a line is covered");
  const crossed = (step) => [...placed(60, 1, [], [0, 1, 2].map((i) => [new Point(), [900 + i * step, 0]])).crossings.values()].filter((m) => m.place).length;
  assert.deepEqual([crossed(60), crossed(30), crossed(15)], [3, 3, 0], "numbers of a heap of crossings");
  const crowded = placed(60, 6, [], [[new Point(), [30, 32]]], [new Point(new Line([[80, 0], [100, 0]]))]);
  const [flag] = crowded.flags.values();
  assert.notEqual(flag, null, "a flag gives way to depths");
  for (const { label, dot, width } of crowded.points.values()) {
    if (label === null) continue;
    const [l, t] = [dot.x + label.left, dot.y + label.top];
    assert.ok(Math.hypot(Math.max(l - 30, 0, 30 - l - width), Math.max(t + 12, 0, -12 - t - 26)) >= 14.5, "a crossing is covered");
  }
});

const row = (n, step, record = 0) => Array.from({ length: n }, (_, i) => ({ x: i * step, y: 0, record }));
const radii = (spots) => sizesOf(spots).map((s) => s.radius);
table("dots", [
  ["far apart: full size", radii(row(3, 30)), [8, 8, 8]],
  ["nearer: smaller", radii(row(3, 14)), [4.5, 4.5, 4.5]],
  ["touching at their smallest: some give way", radii(row(9, 2.7)), [4.5, 0, 0, 0, 0, 4.5, 0, 0, 0]],
  ["those others gave way to are told", sizesOf(row(9, 2.7)).map((s) => s.several), [true, false, false, false, false, true, false, false, false]],
  ["of different records none gives way", radii([...row(1, 1, 0), ...row(1, 1, 1)].map((s, i) => ({ ...s, x: i * 3 }))), [3.5, 3.5]],
  ["how far the nearest of its record is", sizesOf([...row(2, 13), ...row(1, 1, 1)].map((s, i) => ({ ...s, x: i * 13 }))).map((s) => s.spacing), [13, 13, Infinity]],
  ["none is near", sizesOf(row(2, 40)).map((s) => s.spacing), [Infinity, Infinity]],
  ["where others gave way they are at the very same place", sizesOf(row(9, 2.7)).every((s) => s.spacing === 0), true],
  ["at the very same place both are drawn", radii([...row(1, 1), ...row(1, 1)]), [8, 8]],
  ["a test hole stays", radii([...row(1, 1), { x: 3, y: 0, record: 0, always: true }]), [3.5, 3.5]],
]);

test("dots: of one record none touches another, and each that gave way has one beside it", () => {
  for (let round = 0; round < 30; round++) {
    const spots = Array.from({ length: 150 }, () => ({ x: random() * 300, y: random() * 300, record: 0 }));
    const sizes = sizesOf(spots);
    spots.forEach((a, i) => {
      const near = spots.filter((_, j) => sizes[j].radius > 0 && j !== i).map((b) => Math.hypot(a.x - b.x, a.y - b.y));
      if (sizes[i].radius === 0) assert.ok(Math.min(...near) < 11);
      spots.forEach((b, j) => j > i && sizes[i].radius > 0 && sizes[j].radius > 0 && assert.ok(
        Math.hypot(a.x - b.x, a.y - b.y) >= sizes[i].radius + sizes[j].radius + 2 * dotEdge, "two touch"));
    });
  }
});

/** A canvas that keeps what is traced; one projected meter is one pixel. */
function stage(left = 0, top = 100, width = 400, height = 200) {
  const parts = [];
  const context = { canvas: { width, height }, moveTo: (x, y) => parts.push([[x, y]]), lineTo: (x, y) => parts.at(-1).push([x, y]) };
  return { context, ratio: 1, resolution: 1, scale: 1, left, top, parts };
}
const long = (parts) => parts.reduce((sum, p) => sum + p.slice(1).reduce((s, [x, y], i) => s + Math.hypot(x - p[i][0], y - p[i][1]), 0), 0);
const straight = pathOf([0, 0, 1000, 0], 0, 4, 2);

test("a line is cut to the canvas, with its margin", () => {
  const s = stage();
  trace(s, straight, runsOn(straight, s), [], []);
  assert.equal(s.parts.length, 1);
  assert.equal(long(s.parts), 424);
});

test("dashes are where the line puts them: they stay when the map moves", () => {
  const [a, b] = [stage(0), stage(37)];
  for (const s of [a, b]) trace(s, straight, runsOn(straight, s), [], [15, 8]);
  const starts = (s) => s.parts.map((p) => p[0][0] + s.left).filter((x) => x > 60 && x < 300);
  assert.deepEqual(starts(a), starts(b));
  assert.ok(starts(a).every((x) => x % 23 === 0));
});

test("gaps are left out, and dashes go round corners", () => {
  const bent = pathOf([9, 9, 0, 0, 1, 50, 0, 2, 50, -50, 3], 2, 11, 3); // x, y and a height
  assert.equal(bent.length, 100);
  const s = stage(0, 120);
  trace(s, bent, runsOn(bent, s), [[40, 60]], [30, 10]);
  assert.deepEqual(s.parts.map((p) => [p.length, long([p])]), [[2, 30], [2, 10], [2, 20]]);
  const around = stage(0, 120);
  trace(around, bent, runsOn(bent, around), [], [70, 10]);
  assert.deepEqual(around.parts[0].length, 3);
});

test("stretches with corners close together are found, and drawn without dashes", () => {
  const flat = [0, 100, 110, 120, 300, 305, 400].flatMap((x) => [x, 0]);
  const path = pathOf(flat, 0, flat.length, 2);
  assert.deepEqual(denseSpans(path, 14), [[100, 120], [300, 305]]);
  assert.deepEqual(denseSpans(path, 4), []);
  const s = stage();
  trace(s, path, runsWithin(runsOn(path, s), denseSpans(path, 14)), [[104, 108]], []);
  assert.deepEqual(s.parts.map((p) => [p[0][0], p.at(-1)[0]]), [[100, 104], [108, 120], [300, 305]]);
});

test("a path comes back onto the canvas", () => {
  const there = pathOf([0, 0, 300, 0, 300, 900, 320, 900, 320, 0, 0, 50], 0, 12, 2);
  assert.equal(runsOn(there, stage()).length, 2);
  assert.equal(placeAt(there, 310).dy, 1);
});

const word = { width: 20, height: 19, every: 150 };
const whole = (path) => [{ from: 0, to: path.length }];
test("letters: evenly, in gaps as wide as they are, and the same when asked again", () => {
  const places = new LetterPlaces(new Placement(), 1);
  const f = {};
  const letters = places.on(f, 0, straight, whole(straight), word);
  assert.equal(letters.length, 6);
  for (const { x, gap } of letters) assert.deepEqual([x - gap[0], gap[1] - x].map(Math.round), [13, 13]);
  assert.deepEqual(places.on(f, 0, straight, [{ from: 400, to: 420 }], word), [letters[2]]);
  const upright = pathOf([0, 0, 0, 1000], 0, 4, 2);
  const [one] = new LetterPlaces(new Placement(), 1).on({}, 0, upright, whole(upright), { ...word, width: 100 });
  assert.equal(Math.round(one.gap[1] - one.gap[0]), 25, "the gap of an upright line is as long as a letter is high");
});

test("letters: moved along the line, or left out, where they would cover a mark; none on a short line", () => {
  const placement = new Placement();
  placement.addDot({ x: 150, y: 0, radius: 10 });
  const short = pathOf([0, 0, 300, 0], 0, 4, 2);
  const one = new LetterPlaces(placement, 1).on({}, 0, short, whole(short), { ...word, every: 200 })[0];
  assert.ok(Math.abs(one.x - 150) > 20, `at ${one.x}`);
  const crowd = new Placement();
  for (let x = 0; x <= 300; x += 15) crowd.addDot({ x, y: 0, radius: 5 });
  assert.deepEqual(new LetterPlaces(crowd, 1).on({}, 0, short, whole(short), word), []);
  const tiny = pathOf([0, 0, 40, 0], 0, 4, 2);
  assert.deepEqual(new LetterPlaces(new Placement(), 1).on({}, 0, tiny, whole(tiny), word), []);
});

test("a word stands along its line, and never upside down; a letter upright", () => {
  const along = { width: 90, height: 19, every: 600, along: true };
  const turnOf = (x, y, w = along) => {
    const path = pathOf([0, 0, x, y], 0, 4, 2);
    const letters = new LetterPlaces(new Placement(), 1).on({}, 0, path, whole(path), w);
    assert.equal(letters.length, 1);
    return Math.round((letters[0].turn * 180) / Math.PI);
  };
  assert.deepEqual([turnOf(300, 0), turnOf(-300, 0), turnOf(200, 200), turnOf(-200, -200)].map((v) => v + 0), [0, 0, -45, -45]);
  for (const [x, y] of [[1, 9], [-1, 9], [-9, 1], [-9, -1], [9, -1], [0, 9], [0, -9]]) assert.ok(Math.abs(turnOf(x * 30, y * 30)) <= 90, `${x}, ${y}`);
  assert.equal(turnOf(200, 200, { ...along, along: false }), 0);
  const long = pathOf([0, 0, 1300, 0], 0, 4, 2);
  assert.equal(new LetterPlaces(new Placement(), 1).on({}, 0, long, whole(long), along).length, 2, "once a stretch");
});

test("the index finds what is near", () => {
  const index = new GridIndex();
  index.add("a", [0, 0, 10, 10]);
  assert.equal(index.some([5, 5, 6, 6], (t) => t === "a"), true);
  assert.equal(index.some([500, 500, 501, 501], () => true), false);
});

// A style is made by mark() alone, so every kind that is drawn is named in the sources.
const src = new URL("../src/", import.meta.url);
const drawn = (await readdir(src, { recursive: true })).filter((f) => /^shared\/(records|derived|map)\/.*\.ts$/.test(f));
const sources = await Promise.all(drawn.map(async (f) => [f, await readFile(new URL(f, src), "utf8")]));
const { markKinds } = await load("shared/records/marks.ts");

test("styles of the map are made in one place, with their kind", () => {
  assert.deepEqual(sources.filter(([, s]) => /new Style\(/.test(s)).map(([f]) => f), ["shared/records/marks.ts"]);
});

test("every kind that is drawn has a row in the legend, and every row is of a kind that is drawn", async () => {
  const called = /\b(?:mark|pictureMark|pointMark|casingMark|colourMark|edge|edgeStyles)\(\s*"(\w[\w ]*)"/g;
  const used = new Set(sources.flatMap(([, s]) => [...s.matchAll(called)].map(([, kind]) => kind)));
  for (const kind of ["letter", "state", "area", "margin"]) used.add(kind); // parts of lines, and edges chosen by a feature
  assert.deepEqual([...used].sort(), [...markKinds].sort());
  const legend = await readFile(new URL("shared/sheets/legend.ts", src), "utf8");
  const rows = legend.slice(legend.indexOf("const rowsOf"), legend.indexOf("export function legend"));
  assert.deepEqual([...rows.matchAll(/^ {2}"?(\w[\w ]*)"?: \(/gm)].map(([, kind]) => kind), [...markKinds]);
});

const { isWithin, sideOf } = await load("field/position/marker.ts");
const block = (...taken) => ([left, top, right, bottom]) => !taken.some(([x, y]) => x > left && x < right && y > top && y < bottom);
table("the position's word", [
  ["below", sideOf([60, 16], block()), "below"],
  ["above, where a reading is below", sideOf([60, 16], block([0, 26])), "above"],
  ["beside", sideOf([60, 16], block([10, 26], [-10, -26])), "right"],
  ["not where the edge of the map would cut it", sideOf([60, 16], (box) => isWithin(box, 195, 300, [0, 0, 200, 600])), "left"],
  ["in the bar alone, where there is no room", sideOf([60, 16], block([0, 26], [0, -26], [40, 0], [-40, 0])), "none"],
]);
