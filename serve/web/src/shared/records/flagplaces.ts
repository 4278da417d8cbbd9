// Where the flags of lines that enter the dig area stand: beside their line, else led away from
// it; those of one spot are one flag with a number. At rest, a flag whose own place is out of sight
// stands at a part of its line that is in sight.
import type { FeatureLike } from "ol/Feature";
import type { Geometry } from "ol/geom";
import { type Box, overlap } from "./boxes";
import { flagBox, flagReach, flagSides } from "./derivedmarks";
import { isPartlySeen, isSeen, type Sight } from "./edgelabels";
import type { Placement } from "./labelplacement";
import { cheapest, type CostsOf, leaderCost, type Offset, waysOut } from "./leaders";
import { pathsOf, placeAt } from "./path";

/** Where a flag stands. */
export interface FlagPlace {
  /** whose line it stands at; others that have no flag of their own are told by its number */
  of: FeatureLike;
  /** the place at the line, in Web Mercator */
  at: [x: number, y: number];
  to: Offset;
  /** from where on a leader is drawn, in pixels; -1 for none */
  from: number;
  /** how many lines it stands for */
  lines: number;
}

/** Lines nearer to each other than this have one flag; one without room is told by another's flag so near. Pixels. */
const oneSpot = 20;
const near = 160;
const ways = waysOut([30, 42, 56, 72, 90]);

/** What flags are placed with; `unit` is a pixel of the placement in projected meters. */
interface Ground {
  placement: Placement;
  unit: number;
  costsOf: CostsOf;
}

const boxAt = ({ at: [x, y], to }: FlagPlace, unit: number): Box => flagBox(x / unit, -y / unit, to);

/** What flags cover that stand elsewhere at rest. */
export const flagBoxes = (moved: Map<FeatureLike, FlagPlace | null>, unit: number): Box[] =>
  [...moved].flatMap(([f, p]) => (p?.of === f ? [boxAt(p, unit)] : []));

/** A flag at one of some places of a line, the first of them at best, where it covers no dot and no mark; null where there is no room. */
function flagAt(f: FeatureLike, spots: [number, number][], { placement, unit, costsOf }: Ground, fits: (box: Box) => boolean): FlagPlace | null {
  let best: { place: FlagPlace; cost: number } | null = null;
  for (const [i, at] of spots.entries()) {
    if (best !== null && best.cost < leaderCost) break;
    const [x, y] = [at[0] / unit, -at[1] / unit];
    const all = [...flagSides.map((to, k) => ({ to, led: false, cost: k / 4 })), ...ways.map((to) => ({ to, led: true, cost: leaderCost + Math.hypot(...to) / 10 }))]
      .map((one) => ({ ...one, cost: one.cost + i, box: flagBox(x, y, one.to) }));
    const found = cheapest(all, costsOf, ({ box }) => placement.isFree(box) && fits(box), ({ to, led }) => {
      const way = led ? placement.leaderTo(x, y, to, flagReach) : { from: -1, boxes: [] };
      return way && way.boxes.every(fits) ? way.from : null;
    });
    if (found && found.cost < (best?.cost ?? Infinity)) best = { cost: found.cost, place: { of: f, at, to: found.one.to, from: found.found, lines: 1 } };
  }
  return best?.place ?? null;
}

const nearest = (all: FlagPlace[], [x, y]: [number, number], within: number): FlagPlace | undefined =>
  all.map((p) => ({ p, d: Math.hypot(p.at[0] - x, p.at[1] - y) })).filter(({ d }) => d < within).sort((a, b) => a.d - b.d)[0]?.p;

/** Where on the longest part of a line its flag stands at best, and where else, as shares of it. */
const shares = [0.5, 0.43, 0.57, 0.36, 0.64, 0.29, 0.71];

function spotsOf(f: FeatureLike): [number, number][] {
  const longest = [...pathsOf(f.getGeometry() as Geometry)].sort((a, b) => b.length - a.length)[0];
  if (longest === undefined || longest.x.length < 2) return [];
  return shares.map((share) => {
    const { x, y } = placeAt(longest, share * longest.length);
    return [x, y];
  });
}

/** Places all flags at a resolution. */
export function placeFlags(flags: FeatureLike[], ground: Ground): Map<FeatureLike, FlagPlace | null> {
  const { placement, unit } = ground;
  const own: FlagPlace[] = [];
  return new Map(flags.flatMap((f): [FeatureLike, FlagPlace | null][] => {
    const spots = spotsOf(f);
    const first = spots[0];
    if (first === undefined) return [];
    let place = nearest(own, first, oneSpot * unit) ?? null;
    if (place) place.lines++;
    else if ((place = flagAt(f, spots, ground, () => true))) {
      own.push(place);
      const [x, y] = place.at;
      if (place.from >= 0) placement.addLeader(placement.leaderTo(x / unit, -y / unit, place.to, flagReach)?.boxes ?? []);
      placement.fix(boxAt(place, unit));
    } else if ((place = nearest(own, first, near * unit) ?? null)) place.lines++;
    return [[f, place]];
  }));
}

/** The flags of a placement that stand elsewhere at rest: because they are not in sight, and their line is. */
export function flagsAtRest(placed: Map<FeatureLike, FlagPlace | null>, sight: Sight, ground: Ground): Map<FeatureLike, FlagPlace | null> {
  const { unit } = ground;
  const isShown = (p: FlagPlace | null): p is FlagPlace => p !== null && isSeen(boxAt(p, unit), sight);
  const moved = new Map<FeatureLike, FlagPlace | null>();
  const seen = [...new Set([...placed.values()].filter(isShown))].map((p) => ({ ...p, lines: 0 }));
  const hosts = new Map(seen.map((p) => [p.of, p]));
  const taken: Box[] = [];
  for (const [f, place] of placed) {
    const host = isShown(place) ? hosts.get(place.of) : undefined;
    if (host) {
      host.lines++;
      continue;
    }
    const spots = inSight(f, sight, unit);
    const first = spots[0];
    if (first === undefined) continue;
    let to = nearest(seen, first, oneSpot * unit) ?? null;
    to ??= flagAt(f, spots, ground, (box) => isSeen(box, sight) && !taken.some((b) => overlap(b, box))) ?? nearest(seen, first, near * unit) ?? null;
    if (to?.of === f) {
      seen.push(to);
      taken.push(boxAt(to, unit));
    } else if (to) to.lines++;
    moved.set(f, to);
  }
  // A flag that stands where it stood has another number if others came to it, or left it.
  for (const [f, place] of placed) {
    const host = place && hosts.get(place.of);
    if (host && !moved.has(f) && host.lines !== place.lines) moved.set(f, host);
  }
  return moved;
}

/** How many places of a line in sight are tried, and how far they are from each other, in pixels. */
const mostSpots = 12;
const spotStep = 14;

/** Places of a line that are in sight, from the middle of them outwards. */
function inSight(f: FeatureLike, sight: Sight, unit: number): [number, number][] {
  const all: [number, number][] = [];
  const edge = 4;
  const [west = 0, south = 0, east = 0, north = 0] = f.getGeometry()?.getExtent() ?? [];
  if (!isPartlySeen([west / unit - edge, -north / unit - edge, east / unit + edge, -south / unit + edge], sight)) return all;
  for (const path of pathsOf(f.getGeometry() as Geometry)) {
    const step = Math.max(spotStep * unit, path.length / 400);
    for (let s = Math.min(step, path.length) / 2; s < path.length; s += step) {
      const { x, y } = placeAt(path, s);
      const [px, py] = [x / unit, -y / unit];
      if (isSeen([px - edge, py - edge, px + edge, py + edge], sight)) all.push([x, y]);
    }
  }
  const middle = all.length / 2;
  return all.map((at, i) => ({ at, i })).sort((a, b) => Math.abs(a.i - middle) - Math.abs(b.i - middle)).slice(0, mostSpots).map(({ at }) => at);
}
