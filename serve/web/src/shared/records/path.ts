// Lines as paths with their length, cut to what is on the canvas. All lengths along a path are
// projected meters from its beginning, so that marks along it stay where they are when the map moves.
import { type Geometry, LineString, MultiLineString, MultiPolygon, Polygon } from "ol/geom";
import type { Stage } from "./stage";

export interface Path {
  /** x and y of its corners, and the length up to each */
  x: Float64Array;
  y: Float64Array;
  along: Float64Array;
  length: number;
}

/** A stretch of a path, from a length to another. */
export type Span = [from: number, to: number];

/** A stretch and the segment in which it begins. */
interface Run {
  first: number;
  from: number;
  to: number;
}

const known = new WeakMap<Geometry, { revision: number; paths: Path[] }>();

/** The paths of lines, and of the edges of polygons. */
export function pathsOf(g: Geometry): Path[] {
  let one = known.get(g);
  if (one?.revision !== g.getRevision()) known.set(g, (one = { revision: g.getRevision(), paths: measured(g) }));
  return one.paths;
}

function measured(g: Geometry): Path[] {
  if (g instanceof LineString) return [pathOf(g.getFlatCoordinates(), 0, g.getFlatCoordinates().length, g.getStride())];
  const ends = g instanceof MultiPolygon ? g.getEndss().flat() : g instanceof MultiLineString || g instanceof Polygon ? g.getEnds() : [];
  if (!(g instanceof MultiPolygon || g instanceof MultiLineString || g instanceof Polygon)) return [];
  return ends.map((end, i) => pathOf(g.getFlatCoordinates(), ends[i - 1] ?? 0, end, g.getStride()));
}

export function pathOf(flat: ArrayLike<number>, begin: number, end: number, stride: number): Path {
  const n = Math.max(0, Math.floor((end - begin) / stride));
  const [x, y, along] = [new Float64Array(n), new Float64Array(n), new Float64Array(n)];
  for (let i = 0; i < n; i++) {
    x[i] = flat[begin + i * stride] ?? 0;
    y[i] = flat[begin + i * stride + 1] ?? 0;
    if (i > 0) along[i] = at(along, i - 1) + Math.hypot(at(x, i) - at(x, i - 1), at(y, i) - at(y, i - 1));
  }
  return { x, y, along, length: n > 0 ? at(along, n - 1) : 0 };
}

const at = (list: Float64Array, i: number): number => list[i] as number;

/** How far marks reach from a line, in pixels of the screen. */
const reach = 24;

/** The stretches of a path that are on the canvas. */
export function runsOn(path: Path, { context, ratio, scale, left, top }: Stage): Run[] {
  const margin = (reach * ratio) / scale;
  const [west, east] = [left - margin, left + context.canvas.width / scale + margin];
  const [south, north] = [top - context.canvas.height / scale - margin, top + margin];
  const runs: Run[] = [];
  let last: Run | undefined;
  for (let i = 1; i < path.x.length; i++) {
    const [px, py, qx, qy] = [at(path.x, i - 1), at(path.y, i - 1), at(path.x, i), at(path.y, i)];
    if ((px < west && qx < west) || (px > east && qx > east) || (py < south && qy < south) || (py > north && qy > north)) continue;
    let [t, u] = [0, 1];
    for (const [p, d, low, high] of [[px, qx - px, west, east], [py, qy - py, south, north]] as const) {
      if (d === 0) continue;
      const [a, b] = d > 0 ? [(low - p) / d, (high - p) / d] : [(high - p) / d, (low - p) / d];
      [t, u] = [Math.max(t, a), Math.min(u, b)];
    }
    if (t >= u) continue;
    const [s, long] = [at(path.along, i - 1), at(path.along, i) - at(path.along, i - 1)];
    if (last && t === 0 && last.to === s) last.to = s + u * long;
    else runs.push((last = { first: i - 1, from: s + t * long, to: s + u * long }));
  }
  return runs;
}

/** The place at a length along a path, and the direction there. */
export function placeAt(path: Path, s: number): { x: number; y: number; dx: number; dy: number } {
  let [low, high] = [0, path.x.length - 2];
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if (at(path.along, mid) <= s) low = mid;
    else high = mid - 1;
  }
  return onSegment(path, low, s);
}

function onSegment(path: Path, i: number, s: number): { x: number; y: number; dx: number; dy: number } {
  const long = at(path.along, i + 1) - at(path.along, i);
  const [dx, dy] = long > 0 ? [(at(path.x, i + 1) - at(path.x, i)) / long, (at(path.y, i + 1) - at(path.y, i)) / long] : [1, 0];
  const t = s - at(path.along, i);
  return { x: at(path.x, i) + t * dx, y: at(path.y, i) + t * dy, dx, dy };
}

/** Whether a length lies in one of some gaps, which are in order. */
export const inGap = (s: number, gaps: Span[]): boolean => gaps.some(([from, to]) => s > from && s < to);

/** The stretches of a path whose corners are nearer to each other than `within`. */
export function denseSpans({ along }: Path, within: number): Span[] {
  const spans: Span[] = [];
  for (let i = 1; i < along.length; i++) {
    const [from, to] = [at(along, i - 1), at(along, i)];
    if (to - from >= within) continue;
    const last = spans[spans.length - 1];
    if (last?.[1] === from) last[1] = to;
    else spans.push([from, to]);
  }
  return spans;
}

/** The parts of runs that lie in some spans. */
export function runsWithin(runs: Run[], spans: Span[]): Run[] {
  return runs.flatMap(({ first, from, to }) => spans.filter(([a, b]) => b > from && a < to)
    .map(([a, b]) => ({ first, from: Math.max(from, a), to: Math.min(to, b) })));
}

/** Adds the stretches of a path to the canvas's, cut into dashes, with gaps left out; no dashes = unbroken. */
export function trace(stage: Stage, path: Path, runs: Run[], gaps: Span[], dash: number[]): void {
  for (const run of runs) {
    let i = run.first;
    for (const [from, to] of dashed(run, dash)) {
      for (const [a, b] of without(from, to, gaps)) i = stroke(stage, path, i, a, b);
    }
  }
}

function* dashed({ from, to }: Run, dash: number[]): Generator<Span> {
  const period = dash.reduce((sum, d) => sum + d, 0);
  if (dash.length < 2 || !(period > 0)) return yield [from, to];
  for (let begin = Math.floor(from / period) * period; begin < to; begin += period) {
    let s = begin;
    for (let i = 0; i + 1 < dash.length; i += 2) {
      const end = s + (dash[i] ?? 0);
      if (end > from && s < to) yield [Math.max(s, from), Math.min(end, to)];
      s = end + (dash[i + 1] ?? 0);
    }
  }
}

function* without(from: number, to: number, gaps: Span[]): Generator<Span> {
  for (const [a, b] of gaps) {
    if (b <= from || a >= to) continue;
    if (a > from) yield [from, a];
    from = b;
  }
  if (from < to) yield [from, to];
}

// Returns the segment in which the stretch ends.
function stroke({ context, scale, left, top }: Stage, path: Path, first: number, from: number, to: number): number {
  const last = path.x.length - 2;
  let i = first;
  while (i < last && at(path.along, i + 1) <= from) i++;
  const begin = onSegment(path, i, from);
  context.moveTo((begin.x - left) * scale, (top - begin.y) * scale);
  for (; i < last && at(path.along, i + 1) < to; i++) context.lineTo((at(path.x, i + 1) - left) * scale, (top - at(path.y, i + 1)) * scale);
  const end = onSegment(path, i, to);
  context.lineTo((end.x - left) * scale, (top - end.y) * scale);
  return i;
}
