// Labels at the edge of what can be seen of the map: a depth that is cut reads as another depth.
import { type Box, besideDot, boxOf, type Dot, type Label, labelHeight, overlap, sides } from "./labelplacement";

/** What can be seen of the map, in pixels of the placement: its view, and what lies over it. */
export interface Sight {
  view: Box;
  covers: Box[];
}

/** How far a label may be led away from its dot, and in which steps it is tried, in pixels. */
const farthest = 84;
const step = 12;
/** A led label is so far away that its line can be seen. */
const nearest = 8;

/** Whether nothing cuts a box. */
export const isSeen = ([left, top, right, bottom]: Box, { view, covers }: Sight): boolean =>
  left >= view[0] && top >= view[1] && right <= view[2] && bottom <= view[3] && !covers.some((c) => overlap(c, [left, top, right, bottom]));

/** Whether any of a box is in sight. */
export const isPartlySeen = (box: Box, { view }: Sight): boolean => overlap(box, view);

/** A label of a dot in sight, moved so that nothing cuts it: to another side, else away with a line to it; null where there is no room. */
export function movedLabel(dot: Dot, width: number, sight: Sight, isFree: (box: Box) => boolean): Label | null {
  const fits = (label: Label) => {
    const box = boxOf(label, width, dot);
    return isSeen(box, sight) && isFree(box) && (!label.led || leader(label, width, dot).every(isFree));
  };
  return sides.map((side) => besideDot(dot, width, side)).find(fits) ?? led(width, dot.radius).find(fits) ?? null;
}

/** The line from a dot to its led label, in small boxes from where it leaves the dot. */
function leader({ left, top }: Label, width: number, { x, y, radius }: Dot): Box[] {
  const [u, v] = leaderEnd(left, top, width);
  const long = Math.hypot(u, v);
  const all: Box[] = [];
  for (let s = radius + 3; s < long - 2; s += 4) {
    const [px, py] = [x + (u / long) * s, y + (v / long) * s];
    all.push([px - 2, py - 2, px + 2, py + 2]);
  }
  return all;
}

/** Where the line to a label ends: the nearest of it to its dot. */
export const leaderEnd = (left: number, top: number, width: number): [number, number] =>
  [Math.min(Math.max(0, left), left + width), Math.min(Math.max(0, top), top + labelHeight)];

/** The places of led labels of a width round a dot, the nearest first. */
function led(width: number, radius: number): Label[] {
  const all: { label: Label; away: number }[] = [];
  const reach = radius + farthest;
  for (let top = -reach - labelHeight; top <= reach; top += step) {
    for (let left = -reach - width; left <= reach; left += step) {
      const away = Math.hypot(Math.max(left, 0, -left - width), Math.max(top, 0, -top - labelHeight)) - radius;
      if (away >= nearest && away <= farthest) all.push({ label: { left: Math.round(left), top: Math.round(top), led: true }, away });
    }
  }
  return all.sort((a, b) => a.away - b.away).map((one) => one.label);
}
