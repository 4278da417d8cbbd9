// Where marks stand on the map: one placement a resolution for all records that are on, so that
// nothing jumps while the map moves. At rest, labels that the edge of the map or something over it
// would cut are moved, or hidden.
import type { FeatureLike } from "ol/Feature";
import { containsXY, type Extent } from "ol/extent";
import { getUid } from "ol/util";
import { theme } from "../lib/theme";
import { depthText, type Units } from "../lib/units";
import { awayFrom, type Box, boxOf, type Label, overlap } from "./boxes";
import { isPartlySeen, isSeen, isUncovered, movedLabel, type Sight } from "./edgelabels";
import { flagBoxes, type FlagPlace, flagsAtRest } from "./flagplaces";
import type { Led } from "./labelplacement";
import { isOn, type RecordLayer } from "./layer";
import type { LetterPlaces } from "./letters";
import { LineIndex, type OwnedLine } from "./lineindex";
import { type Added, collect, type LabeledPoint, place, type Placeable, type Placed, type PointPlace, utilityOf } from "./placed";
import { mergedWith, numberOf } from "./record";

/** How many marks are hidden for lack of room, by kind. */
export interface HiddenMarks {
  depths: number;
  flags: number;
  crossings: number;
}

/** The places of marks that are worked out: crossings and flags that are on, and lines through readings. */
export interface DerivedPlaces {
  crossings: Placeable[];
  flags: FeatureLike[];
  lines: OwnedLine[];
}

/** What can be seen of the map, in Web Mercator: all of it, what lies over it, and the cross. */
export interface Clear {
  view: Extent;
  covers: Extent[];
  /** where the cross is, if it is shown */
  cross: Extent | undefined;
}

export interface MarkPlaces {
  pointAt(f: FeatureLike, resolution: number): PointPlace;
  /** The depth with the letter of its utility, "" for none. */
  textOf(f: FeatureLike, letter: string): string;
  /** Where the number of a crossing stands, and the flag of a line; null for nowhere. */
  crossingAt(f: FeatureLike, resolution: number): Led | null;
  flagAt(f: FeatureLike, resolution: number): FlagPlace | null;
  lettersAt(resolution: number): LetterPlaces;
  /** Whether a box around a place, in pixels of the screen, covers no mark. */
  isFree(place: number[], box: Box, resolution: number): boolean;
  /** Whether the dot of a record is nearer to a place than this, in pixels of the placement. */
  hasDot(place: number[], within: number, resolution: number): boolean;
  /** Sets what somebody adds over the map, which no number or flag of records covers, and places all again. */
  setAdded(by: string, all: Added[]): void;
  /** Sets how many depths of what is added found no room in the view. */
  setAddedHidden(depths: number): void;
  /** Keeps labels, flags and words within what can be seen of the map at rest. */
  keepClear(clear: Clear, resolution: number): void;
  /** How many marks are hidden in a view. */
  hidden(view: Extent, resolution: number): HiddenMarks;
  /** How many dots of records that come whole lie in a view, and how many of them are drawn, where some give way. */
  dotsIn(view: Extent, resolution: number): { drawn: number; recorded: number };
  /** Sets the records, and what is worked out, which `redraw` draws again. */
  setSources(layers: RecordLayer[], derived: () => DerivedPlaces, redraw: () => void): void;
  /** Places all again: after something was loaded, or switched on or off. */
  refresh(): void;
}

const nowhere: PointPlace = { radius: 0, ringed: false, label: null, deep: false };
/** How many resolutions are remembered: the map's own, and that of a frame that is still drawn. */
const remembered = 2;

/** Places the marks of records, with depths in the job's units. */
export function makeMarkPlaces(units: Units): MarkPlaces {
  let layers: RecordLayer[] = [];
  let derived: () => DerivedPlaces = () => ({ crossings: [], flags: [], lines: [] });
  let known: Placed[] = [];
  let lines: LineIndex | null = null;
  let redraw = () => {};
  let moved: Moved = { of: null, labels: new Map(), flags: new Map(), taken: [] };
  const added = new Map<string, Added[]>();
  let addedHidden = 0;
  const textOf = (f: FeatureLike, letter: string) => {
    const d = mergedWith(f) > 0 ? null : numberOf(f, "depth_m"); // the depth of one of several points is not that of all
    return d === null ? "" : `${letter} ${depthText(d, units)}`;
  };
  const placed = (resolution: number): Placed => {
    const { size } = theme();
    let one = known.find((p) => p.resolution === resolution && p.size === size);
    if (one === undefined) {
      const { crossings, flags, lines: drawn } = derived();
      lines ??= new LineIndex([...linesOf(layers.filter(isOn)), ...drawn]);
      one = place(resolution, size, collect(layers.filter(isOn), textOf), crossings, flags, lines, [...added.values()].flat());
      known = [one, ...known.slice(0, remembered - 1)];
    }
    return one;
  };
  const flagOf = (at: Placed, f: FeatureLike): FlagPlace | null => (moved.of === at && moved.flags.has(f) ? moved.flags : at.flags).get(f) ?? null;
  return {
    textOf,
    pointAt(f, resolution) {
      const at = placed(resolution);
      const point = at.points.get(f) ?? nowhere;
      const label = moved.of === at ? moved.labels.get(f) : undefined;
      return label === undefined ? point : { radius: point.radius, ringed: point.ringed, label, deep: point.deep };
    },
    crossingAt: (f, resolution) => placed(resolution).crossings.get(f)?.place ?? null,
    flagAt: (f, resolution) => flagOf(placed(resolution), f),
    lettersAt: (resolution) => placed(resolution).letters,
    isFree([x = 0, y = 0], box, resolution) {
      const one = placed(resolution);
      const at = [x / resolution, -y / resolution, x / resolution, -y / resolution];
      const own = box.map((v, i) => (v + (at[i] ?? 0)) / one.size) as Box;
      return one.placement.isFree(own) && !(moved.of === one && moved.taken.some((b) => overlap(b, own)));
    },
    setAddedHidden(depths) {
      addedHidden = depths;
    },
    hasDot([x = 0, y = 0], within, resolution) {
      const { placement, size } = placed(resolution);
      return placement.hasDot({ x: x / resolution / size, y: -y / resolution / size }, within);
    },
    setAdded(by, all) {
      added.set(by, all);
      known = [];
      for (const l of layers) for (const p of l.parts) p.changed();
      redraw();
    },
    keepClear(clear, resolution) {
      const at = placed(resolution);
      const unit = at.resolution * at.size;
      const sight = sightOf(clear, unit);
      const before = moved;
      const flags = flagsAtRest(at.flags, sight, { ...at, unit });
      const taken = flagBoxes(flags, unit);
      moved = { of: at, flags, labels: movedLabels(at, sight, taken), taken };
      if (sight.cross) taken.push(sight.cross); // for what is placed after these
      const same = <T extends Label | FlagPlace | null>(a: Map<FeatureLike, T>, b: Map<FeatureLike, T>) => (before.of === at ? isSameMap(a, b) : b.size === 0);
      if (at.letters.keepClear(sight)) {
        for (const l of layers) for (const p of l.parts) p.changed();
        redraw();
        return;
      }
      if (!same(before.labels, moved.labels)) for (const l of layers) l.parts[1].changed();
      if (!same(before.flags, moved.flags)) redraw();
    },
    hidden(view, resolution) {
      const at = placed(resolution);
      const { points, crossings } = at;
      const labelOf = (f: FeatureLike, p: LabeledPoint) => (moved.of === at && moved.labels.has(f) ? moved.labels.get(f) : p.label);
      const count = <T extends { x: number; y: number }>(all: Map<FeatureLike, T>, hides: (one: T, f: FeatureLike) => number) => {
        let n = 0;
        for (const [f, one] of all) if (containsXY(view, one.x, one.y)) n += hides(one, f);
        return n;
      };
      return {
        depths: addedHidden + count(points, (p, f) => Number(p.text !== "" && !labelOf(f, p))),
        // At rest each of them whose line is in sight was looked at.
        flags: moved.of === at ? [...moved.flags.values()].filter((p) => p === null).length : 0,
        crossings: count(crossings, (m, f) => Number(!m.place) + mergedWith(f)),
      };
    },
    dotsIn(view, resolution) {
      let [drawn, recorded] = [0, 0];
      for (const p of placed(resolution).points.values()) {
        if (p.tiled || !containsXY(view, p.x, p.y)) continue;
        recorded++;
        if (p.radius > 0) drawn++;
      }
      return drawn < recorded ? { drawn, recorded } : { drawn: 0, recorded: 0 };
    },
    setSources(records, at, draw) {
      [layers, derived, redraw] = [records, at, draw];
    },
    refresh() {
      [known, lines] = [[], null];
      for (const l of layers) for (const p of l.parts) p.changed();
    },
  };
}

/** The labels and flags of a placement that stand elsewhere, or nowhere, because of the edges. */
interface Moved {
  of: Placed | null;
  labels: Map<FeatureLike, Label | null>;
  flags: Map<FeatureLike, FlagPlace | null>;
  /** what those cover that stand elsewhere */
  taken: Box[];
}

/** What can be seen, in pixels of the placement. */
function sightOf({ view, covers, cross }: Clear, unit: number): Sight {
  const pixels = ([west = 0, south = 0, east = 0, north = 0]: Extent): Box => [west / unit, -north / unit, east / unit, -south / unit];
  return { view: pixels(view), covers: covers.map(pixels), cross: cross && pixels(cross) };
}

function movedLabels({ points, placement, labelCosts }: Placed, sight: Sight, taken: Box[]): Moved["labels"] {
  const labels: Moved["labels"] = new Map();
  for (const [f, p] of points) {
    const { dot, width, label } = p;
    if (label === null) continue;
    const own = boxOf(label, width, dot);
    if (isSeen(own, sight) || !isPartlySeen(own, sight)) continue;
    const inSight = isUncovered([dot.x, dot.y, dot.x, dot.y], sight);
    const isFree = (box: Box) => placement.isFree(box, own) && placement.isPlain(box, dot, awayFrom(box, dot) > dot.radius + 1) && !taken.some((b) => overlap(b, box));
    const to = inSight ? movedLabel(dot, width, sight, isFree, labelCosts(p)) : null;
    if (to !== null) taken.push(boxOf(to, width, dot));
    labels.set(f, to);
  }
  return labels;
}

/** What tells one label or flag from another. */
const keyOf = (one: Label | FlagPlace | null | undefined): string =>
  (!one ? `${one}` : "of" in one ? [getUid(one.of), one.at, one.to, one.from, one.lines].join() : [one.left, one.top].join());

const isSameMap = <T extends Label | FlagPlace | null>(a: Map<FeatureLike, T>, b: Map<FeatureLike, T>): boolean =>
  a.size === b.size && [...a].every(([f, one]) => keyOf(one) === keyOf(b.get(f)));

/** The lines and outlines of records, with whose they are. */
const linesOf = (layers: RecordLayer[]): OwnedLine[] => layers.flatMap((l) => (l.parts[0].getSource()?.getFeatures() ?? [])
  .filter((f) => !f.getGeometry()?.getType().endsWith("Point")).map((f): OwnedLine => [f, utilityOf(l)]));
