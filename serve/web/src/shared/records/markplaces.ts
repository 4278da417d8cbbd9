// Where marks stand on the map: one placement a resolution for all records that are on, so that
// nothing jumps while the map moves. At rest, labels that the edge of the map or something over it
// would cut are moved, or hidden.
import type { FeatureLike } from "ol/Feature";
import { containsXY, type Extent } from "ol/extent";
import { theme } from "../lib/theme";
import { depthText, type Units } from "../lib/units";
import type { FlagSide } from "./derivedmarks";
import { isPartlySeen, isSeen, movedLabel, type Sight } from "./edgelabels";
import { type Box, boxOf, type Label, overlap } from "./labelplacement";
import { isOn, type RecordLayer } from "./layer";
import type { LetterPlaces } from "./letters";
import { LineIndex, type OwnedLine } from "./lineindex";
import { collect, type LabeledPoint, place, type Placeable, type Placed, type PointPlace, utilityOf } from "./placed";
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
  flags: Placeable[];
  lines: OwnedLine[];
}

/** What can be seen of the map, in Web Mercator: all of it, and what lies over it. */
export interface Clear {
  view: Extent;
  covers: Extent[];
}

export interface MarkPlaces {
  pointAt(f: FeatureLike, resolution: number): PointPlace;
  /** The depth with the letter of its utility, "" for none. */
  textOf(f: FeatureLike, letter: string): string;
  isCrossingShown(f: FeatureLike, resolution: number): boolean;
  flagAt(f: FeatureLike, resolution: number): FlagSide | null;
  lettersAt(resolution: number): LetterPlaces;
  /** Whether a box around a place, in pixels of the screen, covers no mark. */
  isFree(place: number[], box: Box, resolution: number): boolean;
  /** Keeps labels within what can be seen of the map at rest. */
  keepClear(clear: Clear, resolution: number): void;
  /** How many marks are hidden in a view. */
  hidden(view: Extent, resolution: number): HiddenMarks;
  /** How many dots of records that come whole lie in a view, and how many of them are drawn, where some give way. */
  dotsIn(view: Extent, resolution: number): { drawn: number; recorded: number };
  /** Sets the records, and what is worked out. */
  setSources(layers: RecordLayer[], derived: () => DerivedPlaces): void;
  /** Places all again: after something was loaded, or switched on or off. */
  refresh(): void;
}

const nowhere: PointPlace = { radius: 0, ringed: false, label: null };
/** How many resolutions are remembered: the map's own, and that of a frame that is still drawn. */
const remembered = 2;

/** Places the marks of records, with depths in the job's units. */
export function makeMarkPlaces(units: Units): MarkPlaces {
  let layers: RecordLayer[] = [];
  let derived: () => DerivedPlaces = () => ({ crossings: [], flags: [], lines: [] });
  let known: Placed[] = [];
  let lines: LineIndex | null = null;
  let moved: Moved = { of: null, labels: new Map() };
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
      one = place(resolution, size, collect(layers.filter(isOn), textOf), crossings, flags, lines);
      known = [one, ...known.slice(0, remembered - 1)];
    }
    return one;
  };
  return {
    textOf,
    pointAt(f, resolution) {
      const at = placed(resolution);
      const point = at.points.get(f) ?? nowhere;
      const label = moved.of === at ? moved.labels.get(f) : undefined;
      return label === undefined ? point : { radius: point.radius, ringed: point.ringed, label };
    },
    isCrossingShown: (f, resolution) => placed(resolution).crossings.get(f)?.place ?? false,
    flagAt: (f, resolution) => placed(resolution).flags.get(f)?.place ?? null,
    lettersAt: (resolution) => placed(resolution).letters,
    isFree([x = 0, y = 0], box, resolution) {
      const { placement, size } = placed(resolution);
      const at = [x / resolution, -y / resolution, x / resolution, -y / resolution];
      return placement.isFree(box.map((v, i) => (v + (at[i] ?? 0)) / size) as Box);
    },
    keepClear(clear, resolution) {
      const at = placed(resolution);
      const labels = movedLabels(at, clear);
      const before = moved;
      moved = { of: at, labels };
      if (before.of === at ? !sameLabels(before.labels, labels) : labels.size > 0) for (const l of layers) l.parts[1].changed();
    },
    hidden(view, resolution) {
      const at = placed(resolution);
      const { points, crossings, flags } = at;
      const labelOf = (f: FeatureLike, p: LabeledPoint) => (moved.of === at && moved.labels.has(f) ? moved.labels.get(f) : p.label);
      const count = <T extends { x: number; y: number }>(all: Map<FeatureLike, T>, hides: (one: T, f: FeatureLike) => number) => {
        let n = 0;
        for (const [f, one] of all) if (containsXY(view, one.x, one.y)) n += hides(one, f);
        return n;
      };
      return {
        depths: count(points, (p, f) => Number(p.text !== "" && !labelOf(f, p))),
        flags: count(flags, (m) => Number(m.place === null)),
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
    setSources(records, at) {
      [layers, derived] = [records, at];
    },
    refresh() {
      [known, lines] = [[], null];
      for (const l of layers) for (const p of l.parts) p.changed();
    },
  };
}

/** The labels of a placement that stand elsewhere, or nowhere, because of the edges. */
interface Moved {
  of: Placed | null;
  labels: Map<FeatureLike, Label | null>;
}

function movedLabels({ points, placement, resolution, size }: Placed, { view, covers }: Clear): Moved["labels"] {
  const unit = resolution * size;
  const pixels = ([west = 0, south = 0, east = 0, north = 0]: Extent): Box => [west / unit, -north / unit, east / unit, -south / unit];
  const sight: Sight = { view: pixels(view), covers: covers.map(pixels) };
  const labels: Moved["labels"] = new Map();
  const taken: Box[] = [];
  for (const [f, { dot, width, label }] of points) {
    if (label === null) continue;
    const own = boxOf(label, width, dot);
    if (isSeen(own, sight) || !isPartlySeen(own, sight)) continue;
    const inSight = isSeen([dot.x, dot.y, dot.x, dot.y], sight);
    const to = inSight ? movedLabel(dot, width, sight, (box) => placement.isFree(box, own) && !taken.some((b) => overlap(b, box))) : null;
    if (to !== null) taken.push(boxOf(to, width, dot));
    labels.set(f, to);
  }
  return labels;
}

function sameLabels(a: Moved["labels"], b: Moved["labels"]): boolean {
  return a.size === b.size && [...a].every(([f, label]) => {
    const other = b.get(f);
    return other !== undefined && label?.left === other?.left && label?.top === other?.top;
  });
}

/** The lines and outlines of records, with whose they are. */
const linesOf = (layers: RecordLayer[]): OwnedLine[] => layers.flatMap((l) => (l.parts[0].getSource()?.getFeatures() ?? [])
  .filter((f) => !f.getGeometry()?.getType().endsWith("Point")).map((f): OwnedLine => [f, utilityOf(l)]));
