// Leaders: the lines that lead from a place to its mark where the mark does not stand at it.
import { awayFrom, type Box, type Label, labelHeight } from "./boxes";

/** A led mark is so far away that its line can be seen, and so near that it is still found. Pixels. */
const nearest = 8;
const farthest = 84;

/** What a leader costs, and each pixel of it: less than to cover another's line. */
export const leaderCost = 6;
export const pixelCost = 1 / 6;

/** What it costs to cover the lines under each of some boxes; Infinity rules a box out. */
export type CostsOf = (boxes: Box[]) => number[];

/** A place that a mark may have: what it covers, and what it costs before lines are looked at. */
interface Choice {
  box: Box;
  cost: number;
}

/** How many places are looked at together. */
const together = 12;

/** The cheapest of some places, in the order of their costs, for which `find` gives something, with that. Places are looked at only while they may still be cheaper. */
export function cheapest<T extends Choice, F>(all: T[], costsOf: CostsOf, fits: (one: T) => boolean, find: (one: T) => F | null): { one: T; found: F; cost: number } | null {
  let best: { one: T; found: F; cost: number } | null = null;
  for (let i = 0; i < all.length; i += together) {
    if (best !== null && best.cost <= (all[i]?.cost ?? Infinity)) break;
    const some = all.slice(i, i + together).filter(fits);
    const costs = costsOf(some.map((one) => one.box));
    const priced = some.map((one, k) => ({ one, cost: one.cost + (costs[k] ?? 0) })).sort((a, b) => a.cost - b.cost);
    for (const { one, cost } of priced) {
      if (cost >= (best?.cost ?? Infinity)) break;
      const found = find(one);
      if (found !== null) best = { one, found, cost };
    }
  }
  return best;
}

/** A way from a place, in pixels. */
export type Offset = readonly [right: number, down: number];

/** Half the width of a leader with its edge. */
const half = 2.5;

/** A leader between two lengths along a way, in small boxes. */
export function leaderBoxes(x: number, y: number, [u, v]: Offset, from: number, to: number): Box[] {
  const long = Math.hypot(u, v) || 1;
  const all: Box[] = [];
  for (let s = from; s < to; s += 4) {
    const [px, py] = [x + (u / long) * s, y + (v / long) * s];
    all.push([px - half, py - half, px + half, py + half]);
  }
  return all;
}

/** Where the leader to a label ends: the nearest of it to its dot. */
export const leaderEnd = (left: number, top: number, width: number): [number, number] =>
  [Math.min(Math.max(0, left), left + width), Math.min(Math.max(0, top), top + labelHeight)];

/** The leader from a dot of a radius to its label. */
export function labelLeader({ left, top }: Label, width: number, { x, y, radius }: { x: number; y: number; radius: number }): Box[] {
  const end = leaderEnd(left, top, width);
  return leaderBoxes(x, y, end, radius + 4, Math.hypot(...end) - 2);
}

/** The places of led labels of a width round a dot, the nearest first, on a grid of some pixels. */
export function ledLabels(width: number, radius: number, step: number, farAway = farthest): { label: Label; away: number }[] {
  const all: { label: Label; away: number }[] = [];
  const reach = radius + farAway;
  for (let top = -reach - labelHeight; top <= reach; top += step) {
    for (let left = -reach - width; left <= reach; left += step) {
      const away = awayFrom([left, top, left + width, top + labelHeight], { x: 0, y: 0 }) - radius;
      if (away >= nearest && away <= farAway) all.push({ label: { left: Math.round(left), top: Math.round(top), led: true }, away });
    }
  }
  return all.sort((a, b) => a.away - b.away);
}

/** Ways from a place in all directions, the shortest first. */
export const waysOut = (lengths: number[], directions = 16): Offset[] => lengths.flatMap((long) =>
  Array.from({ length: directions }, (_, i): Offset => {
    const turn = (2 * Math.PI * (i + 0.5)) / directions;
    return [Math.round(long * Math.cos(turn)), Math.round(long * Math.sin(turn))];
  }));
