// All places of marks at one resolution: numbers of crossings come first, those that have room
// where they belong before others, then flags, which have one place or another, depths, and the
// letters along lines, which take theirs when they come into sight. Nothing lies on a dot.
import type { FeatureLike } from "ol/Feature";
import Point from "ol/geom/Point";
import { getUid } from "ol/util";
import { type Box, type Dot, grown, type Label, labelHeight } from "./boxes";
import { crossingRadius } from "./derivedmarks";
import { denseWithin, dotEdge, sizesOf } from "./dots";
import { type FlagPlace, placeFlags } from "./flagplaces";
import { type Led, Placement } from "./labelplacement";
import { isTiled, type RecordLayer } from "./layer";
import { type CostsOf, waysOut } from "./leaders";
import { LetterPlaces } from "./letters";
import type { LineIndex } from "./lineindex";
import { depthWidth, testHoleRadius } from "./pointmarks";
import { isTestHole } from "./testhole";
import { tiledRadius } from "./tiledots";

/** How a point is drawn: the radius of its dot, 0 where it gives way to others, whether others are so near that it needs a ring, its label, null for none, and whether a depth is recorded there. */
export interface PointPlace {
  radius: number;
  ringed: boolean;
  label: Label | null;
  deep: boolean;
}

/** All places at one resolution. */
export interface Placed {
  resolution: number;
  size: number;
  points: Map<FeatureLike, LabeledPoint>;
  crossings: Map<FeatureLike, CrossingPlace>;
  flags: Map<FeatureLike, FlagPlace | null>;
  letters: LetterPlaces;
  placement: Placement;
  /** what it costs a mark that belongs to no utility to cover lines, and the label of a point */
  costsOf: CostsOf;
  labelCosts(p: LabeledPoint): CostsOf;
}

/** A crossing, and where its number stands; null for nowhere. */
interface CrossingPlace {
  x: number;
  y: number;
  place: Led | null;
}

export interface LabeledPoint extends PointPlace {
  x: number;
  y: number;
  utility: string;
  text: string;
  /** its dot in pixels of the placement, and the width of its text there */
  dot: Dot;
  width: number;
  tiled: boolean;
  several: boolean;
}

/** What else lies over the map: a place in Web Mercator, and how far it reaches, in pixels of the placement; words reach further to both sides, and may stand below their place. */
export type Added = [x: number, y: number, radius: number, aside?: number, below?: number];

/** Of those that are nearer to each other than this one counts, in pixels. */
const sameAdded = 4;

/** Marks with a place in Web Mercator. */
export type Placeable = [feature: FeatureLike, at: number[]];

/** What it costs a label to cover the line of its own utility, and one of another: more than any way to elsewhere; and what it costs another mark. */
const coversOwn = 2.5;
const coversOther = 40;
const coversAny = 3;
/** Half the width of a line with its edge, in pixels. */
const lineHalf = 4;
/** How far numbers of crossings are led. */
const numberWays = waysOut([26, 34, 44, 56, 70]);
/** From a label to the next one of its record, in pixels: nearer readings have theirs by turns, every second or third. */
const labelRoom = labelHeight + 4;
/** For how many labels lines are looked at, and how many may be led away. */
const mostLooked = 2_000;
const mostLed = 400;
/** How many of a record are tried for its first depth. */
const mostTried = 20;

type Collected = [feature: FeatureLike, x: number, y: number, record: number, text: string, tiled: boolean, utility: string];

export function collect(layers: RecordLayer[], textOf: (f: FeatureLike, letter: string) => string): Collected[] {
  // In the order of the record: along a line dots then give way evenly. A source has an order of its own.
  const inOrder = (l: RecordLayer) => [...(l.parts[0].getSource()?.getFeatures() ?? [])].sort((a, b) => Number(getUid(a)) - Number(getUid(b)));
  return layers.flatMap((l, record) => inOrder(l).flatMap((f): Collected[] => {
    const g = f.getGeometry();
    if (!(g instanceof Point)) return [];
    const [x = 0, y = 0] = g.getFlatCoordinates();
    return [[f, x, y, record, textOf(f, l.overlay.letter), isTiled(l), utilityOf(l)]];
  }));
}

/** Crossings that lie within a square of this side are not numbered, in pixels. */
const leastSpread = 2.5 * crossingRadius;

const longestSide = (places: number[][]): number =>
  Math.max(...[0, 1].map((k) => places.reduce((v, at) => Math.max(v, at[k] ?? 0), -Infinity) - places.reduce((v, at) => Math.min(v, at[k] ?? 0), Infinity)));

/** Whose lines a record's labels may cover at little cost. */
export const utilityOf = ({ overlay }: RecordLayer): string => overlay.utility || overlay.id;

/** Places all marks at a resolution, with pixels of a size. */
export function place(resolution: number, size: number, all: Collected[], crossings: Placeable[], flags: FeatureLike[], lines: LineIndex, added: Added[] = []): Placed {
  const unit = resolution * size;
  const placement = new Placement();
  const on = (x: number, y: number): [number, number] => [x / unit, -y / unit];
  const told = new Set<string>();
  for (const [x, y, radius, aside = 0, below = 0] of added) {
    const [px, py] = on(x, y);
    const key = [px, py + below].map((v) => Math.round(v / sameAdded)).join();
    const far = Math.max(0, aside - radius);
    for (let dx = -far; dx <= far && !told.has(key); dx += Math.max(1, Math.min(radius, 2 * far))) placement.addDot({ x: px + dx, y: py + below, radius, added: true });
    told.add(key);
  }
  // Those that come in tiles were thinned by the server.
  const whole = all.filter(([, , , , , tiled]) => !tiled);
  const sizes = new Map(sizesOf(whole.map(([f, x, y, record]) => ({ x: x / unit, y: -y / unit, record, always: isTestHole(f) })))
    .map((one, i) => [whole[i]?.[0], one]));
  const points = new Map<FeatureLike, LabeledPoint>();
  const toLabel: [record: number, p: LabeledPoint][] = [];
  const without = new Map<number, number>(); // record → how many points have no label since the last one
  for (const [f, x, y, record, text, tiled, utility] of all) {
    const { radius, several, spacing } = sizes.get(f) ?? { radius: tiledRadius(f), several: false, spacing: Infinity };
    const [px, py] = on(x, y);
    const dot: Dot = { x: px, y: py, radius: isTestHole(f) ? testHoleRadius : radius + dotEdge };
    // The depth of one of several readings is not that of all.
    let labeled = text !== "" && radius > 0 && !several;
    if (labeled && spacing < labelRoom) {
      const before = without.get(record) ?? Infinity;
      labeled = (before + 1) * spacing >= labelRoom;
      without.set(record, labeled ? 0 : before + 1);
    }
    const p: LabeledPoint = { x, y, utility, text, dot, width: labeled ? depthWidth(text) : 0, tiled, radius, several, ringed: spacing < denseWithin, label: null, deep: text !== "" };
    points.set(f, p);
    if (radius > 0) placement.addDot(dot);
    if (labeled) toLabel.push([record, p]);
  }
  const costs = (ofOne: (utility: string) => number): CostsOf => (boxes) => (boxes.length === 0 ? [] : lines
    .utilitiesIn(boxes.map((box) => grown(box, lineHalf)).map(([l, t, r, b]): Box => [l * unit, -b * unit, r * unit, -t * unit]))
    .map((found) => [...found].reduce((sum, u) => sum + ofOne(u), 0)));
  const costsOf = costs(() => coversAny);
  // From so far out that all of them would be one heap, a number that is left over says nothing.
  const heap = crossings.length > 1 && longestSide(crossings.map(([, at]) => at)) / unit < leastSpread;
  const numbers = new Map(crossings.map(([f, [x = 0, y = 0]]): [FeatureLike, CrossingPlace] =>
    [f, { x, y, place: !heap && placement.takeCircle(...on(x, y), crossingRadius) ? { to: [0, 0], from: 0 } : null }]));
  for (const one of numbers.values()) {
    if (!heap) one.place ??= placement.leadCircle(...on(one.x, one.y), crossingRadius, numberWays, costsOf);
  }
  const flagged = placeFlags(flags, { placement, unit, costsOf });
  const labelCosts = ({ utility, ringed }: LabeledPoint) => costs((u) => (u === utility ? coversOwn : ringed ? Infinity : coversOther));
  let looked = 0;
  const label = (p: LabeledPoint) => {
    p.label = placement.label(p.dot, p.width, looked < mostLooked ? labelCosts(p) : undefined, looked < mostLed);
    looked++;
    return p.label !== null;
  };
  // One depth of each record first, of those with the fewest before others: the only one of a line gives way to none of many.
  const ofRecord = new Map<number, LabeledPoint[]>();
  for (const [record, p] of toLabel) {
    const some = ofRecord.get(record);
    if (some) some.push(p);
    else ofRecord.set(record, [p]);
  }
  const tried = new Set<LabeledPoint>();
  for (const some of [...ofRecord.values()].sort((a, b) => a.length - b.length)) {
    some.slice(0, mostTried).some((p) => tried.add(p) && label(p));
  }
  for (const [, p] of toLabel) if (!tried.has(p)) label(p);
  return { resolution, size, points, crossings: numbers, flags: flagged, letters: new LetterPlaces(placement, unit), placement, costsOf, labelCosts };
}
