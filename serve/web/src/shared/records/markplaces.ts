// Where marks stand at a resolution: one placement for all records that are on. Numbers of
// crossings come first, then depths, flags, and the letters along lines.
import type { FeatureLike } from "ol/Feature";
import { containsXY, type Extent } from "ol/extent";
import Point from "ol/geom/Point";
import { getUid } from "ol/util";
import { theme } from "../lib/theme";
import { depthText, type Units } from "../lib/units";
import { crossingRadius, flagBox, type FlagSide, flagSides } from "./derivedmarks";
import { sizesOf, dotEdge } from "./dots";
import { type Box, type Dot, Placement, type Side } from "./labelplacement";
import { isOn, isTiled, type RecordLayer } from "./layer";
import { LetterPlaces } from "./letters";
import { depthWidth, testHoleRadius } from "./pointmarks";
import { mergedWith, numberOf } from "./record";
import { isTestHole } from "./testhole";
import { tiledRadius } from "./tiledots";

/** How a point is drawn: the radius of its dot, 0 where it gives way to others, and the side of its label, null for none. */
interface PointPlace {
  radius: number;
  side: Side | null;
}

/** How many marks are hidden for lack of room, by kind. */
export interface HiddenMarks {
  depths: number;
  flags: number;
  crossings: number;
}

/** The places of marks that are worked out: crossings and flags that are on. */
export interface DerivedPlaces {
  crossings: [FeatureLike, number[]][];
  flags: [FeatureLike, number[]][];
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
  /** How many marks are hidden in a view. */
  hidden(view: Extent, resolution: number): HiddenMarks;
  /** How many dots of records that come whole lie in a view, and how many of them are drawn, where some give way. */
  dotsIn(view: Extent, resolution: number): { drawn: number; recorded: number };
  /** Sets the records, and what is worked out. */
  setSources(layers: RecordLayer[], derived: () => DerivedPlaces): void;
  /** Places all again: after something was loaded, or switched on or off. */
  refresh(): void;
}

/** All places at one resolution. */
interface Placed {
  resolution: number;
  size: number;
  points: Map<FeatureLike, LabeledPoint>;
  crossings: Map<FeatureLike, Mark<boolean>>;
  flags: Map<FeatureLike, Mark<FlagSide | null>>;
  letters: LetterPlaces;
  placement: Placement;
}

interface Mark<T> {
  x: number;
  y: number;
  place: T;
}

interface LabeledPoint extends PointPlace {
  x: number;
  y: number;
  text: string;
  tiled: boolean;
  several: boolean;
}

const nowhere: PointPlace = { radius: 0, side: null };
/** How many resolutions are remembered: the map's own, and that of a frame that is still drawn. */
const remembered = 2;

/** Places the marks of records, with depths in the job's units. */
export function makeMarkPlaces(units: Units): MarkPlaces {
  let layers: RecordLayer[] = [];
  let derived: () => DerivedPlaces = () => ({ crossings: [], flags: [] });
  let known: Placed[] = [];
  const textOf = (f: FeatureLike, letter: string) => {
    const d = mergedWith(f) > 0 ? null : numberOf(f, "depth_m"); // the depth of one of several points is not that of all
    return d === null ? "" : `${letter} ${depthText(d, units)}`;
  };
  const placed = (resolution: number): Placed => {
    const { size } = theme();
    let one = known.find((p) => p.resolution === resolution && p.size === size);
    if (one === undefined) {
      one = place(resolution, size, collect(layers.filter(isOn), textOf), derived());
      known = [one, ...known.slice(0, remembered - 1)];
    }
    return one;
  };
  return {
    textOf,
    pointAt: (f, resolution) => placed(resolution).points.get(f) ?? nowhere,
    isCrossingShown: (f, resolution) => placed(resolution).crossings.get(f)?.place ?? false,
    flagAt: (f, resolution) => placed(resolution).flags.get(f)?.place ?? null,
    lettersAt: (resolution) => placed(resolution).letters,
    isFree([x = 0, y = 0], box, resolution) {
      const { placement, size } = placed(resolution);
      const at = [x / resolution, -y / resolution, x / resolution, -y / resolution];
      return placement.isFree(box.map((v, i) => (v + (at[i] ?? 0)) / size) as Box);
    },
    hidden(view, resolution) {
      const { points, crossings, flags } = placed(resolution);
      const count = <T extends { x: number; y: number }>(all: Map<FeatureLike, T>, hides: (one: T, f: FeatureLike) => number) => {
        let n = 0;
        for (const [f, one] of all) if (containsXY(view, one.x, one.y)) n += hides(one, f);
        return n;
      };
      return {
        depths: count(points, (p) => Number(p.side === null && p.text !== "")),
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
      known = [];
      for (const l of layers) for (const p of l.parts) p.changed();
    },
  };
}

type Collected = [feature: FeatureLike, x: number, y: number, record: number, text: string, tiled: boolean];

function collect(layers: RecordLayer[], textOf: MarkPlaces["textOf"]): Collected[] {
  // In the order of the record: along a line dots then give way evenly. A source has an order of its own.
  const inOrder = (l: RecordLayer) => [...(l.parts[0].getSource()?.getFeatures() ?? [])].sort((a, b) => Number(getUid(a)) - Number(getUid(b)));
  return layers.flatMap((l, record) => inOrder(l).flatMap((f): Collected[] => {
    const g = f.getGeometry();
    if (!(g instanceof Point)) return [];
    const [x = 0, y = 0] = g.getFlatCoordinates();
    return [[f, x, y, record, textOf(f, l.overlay.letter), isTiled(l)]];
  }));
}

function place(resolution: number, size: number, all: Collected[], { crossings, flags }: DerivedPlaces): Placed {
  const unit = resolution * size;
  const placement = new Placement();
  const on = (x: number, y: number): [number, number] => [x / unit, -y / unit];
  // Those that come in tiles were thinned by the server.
  const whole = all.filter(([, , , , , tiled]) => !tiled);
  const sizes = new Map(sizesOf(whole.map(([f, x, y, record]) => ({ x: x / unit, y: -y / unit, record, always: isTestHole(f) })))
    .map((one, i) => [whole[i]?.[0], one]));
  const points = new Map<FeatureLike, LabeledPoint>();
  const dots: Dot[] = [];
  for (const [f, x, y, , text, tiled] of all) {
    const { radius, several } = sizes.get(f) ?? { radius: tiledRadius(f), several: false };
    points.set(f, { x, y, text, tiled, radius, several, side: null });
    const [px, py] = on(x, y);
    dots.push({ x: px, y: py, radius: isTestHole(f) ? testHoleRadius : radius + dotEdge });
    if (radius > 0) placement.addDot(dots[dots.length - 1] as Dot);
  }
  const marks = <T>(of: [FeatureLike, number[]][], placeOf: (x: number, y: number) => T) =>
    new Map(of.map(([f, [x = 0, y = 0]]) => [f, { x, y, place: placeOf(...on(x, y)) }] as const));
  const numbers = marks(crossings, (x, y) => placement.takeCircle(x, y, crossingRadius));
  let i = 0;
  for (const p of points.values()) {
    const dot = dots[i++] as Dot;
    // The depth of one of several readings is not that of all.
    if (p.text !== "" && p.radius > 0 && !p.several) p.side = placement.side(dot, depthWidth(p.text));
  }
  const flagged = marks(flags, (x, y) => flagSides.find((side) => placement.take(flagBox(x, y, side))) ?? null);
  return { resolution, size, points, crossings: numbers, flags: flagged, letters: new LetterPlaces(placement, unit), placement };
}
