// Marks at the edge of what can be seen of the map: a depth that is cut reads as another depth.
import { type Box, besideDot, boxOf, type Dot, type Label, overlap, sides } from "./boxes";
import { cheapest, type CostsOf, labelLeader, leaderCost, ledLabels, pixelCost } from "./leaders";

/** What can be seen of the map, in pixels of the placement: its view, and what lies over it. */
export interface Sight {
  view: Box;
  covers: Box[];
  /** what only text keeps clear of, if any: the cross stands on the dot that somebody looks at */
  cross?: Box | undefined;
}

/** In which steps a place for a led label is tried, in pixels. */
const step = 12;

/** Whether nothing cuts a box. */
export const isSeen = (box: Box, { cross, ...sight }: Sight): boolean => isUncovered(box, sight) && !(cross && overlap(cross, box));

/** The same, whether the cross stands there or not. */
export const isUncovered = (box: Box, { view, covers }: Sight): boolean =>
  box[0] >= view[0] && box[1] >= view[1] && box[2] <= view[2] && box[3] <= view[3] && !covers.some((c) => overlap(c, box));

/** Whether any of a box is in sight. */
export const isPartlySeen = (box: Box, { view }: Sight): boolean => overlap(box, view);

/** A label of a dot in sight, moved so that nothing cuts it and it costs least: to another side, else away with a line to it; null where there is no room. */
export function movedLabel(dot: Dot, width: number, sight: Sight, isFree: (box: Box) => boolean, costsOf: CostsOf = (boxes) => boxes.map(() => 0)): Label | null {
  const place = (label: Label, cost: number) => ({ label, cost, box: boxOf(label, width, dot) });
  const all = [...sides.map((side, i) => place(besideDot(dot, width, side), i / 2)),
    ...ledLabels(width, dot.radius, step).map(({ label, away }) => place(label, leaderCost + away * pixelCost))];
  return cheapest(all, costsOf, ({ box }) => isSeen(box, sight) && isFree(box), ({ label }) => (!label.led || labelLeader(label, width, dot).every(isFree) ? label : null))?.found ?? null;
}
