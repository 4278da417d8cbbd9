// The depths written beside readings: one placement for all records that are on.
import type { FeatureLike } from "ol/Feature";
import { containsXY, type Extent } from "ol/extent";
import Point from "ol/geom/Point";
import { depthText, type Units } from "../lib/units";
import { type LabelPoint, placeLabels, type Side } from "./labelplacement";
import type { RecordLayer } from "./layer";
import { mergedWith, numberOf } from "./record";
import { font } from "./symbology";

export const depthFont = `700 15px ${font}`;

/** What a label is wider than its text, in pixels: padding and edge. */
const labelPadding = 14;

export interface DepthLabels {
  /** Where a reading's depth stands at a resolution; null where it is left out. */
  sideOf(f: FeatureLike, resolution: number): Side | null;
  /** The text of a reading's depth, "" where it has none. */
  textOf(f: FeatureLike): string;
  /** Whether any depth is left out in a view. */
  someHidden(view: Extent, resolution: number): boolean;
  /** Sets the records to label, and where the crossings lie that labels keep clear of. */
  setSources(layers: RecordLayer[], crossings: () => number[][]): void;
  /** Places all labels again: after records were loaded, or switched on or off. */
  refresh(): void;
}

/** Half the width of a crossing's mark, in pixels. */
const crossingRadius = 15;

/** A point of a record that is on: where it is on the map, and its depth. */
interface LabeledPoint {
  feature: FeatureLike;
  x: number;
  y: number;
  text: string;
  width: number;
  side: Side | null;
}

/** Places the depths of records, in the job's units. */
export function makeDepthLabels(units: Units): DepthLabels {
  let layers: RecordLayer[] = [];
  let crossings: () => number[][] = () => [];
  const wide = textMeasurer();
  let at = 0;
  let spots = new Map<FeatureLike, LabeledPoint>();
  const textOf = (f: FeatureLike) => {
    const d = mergedWith(f) > 0 ? null : numberOf(f, "depth_m"); // one of many is no depth of all
    return d === null ? "" : depthText(d, units);
  };
  const look = () => {
    spots = new Map();
    for (const l of layers) {
      if (!l.parts[1].getVisible()) continue;
      for (const feature of l.parts[0].getSource()?.getFeatures() ?? []) {
        const g = feature.getGeometry();
        if (!(g instanceof Point)) continue;
        const [x = 0, y = 0] = g.getFlatCoordinates();
        const text = textOf(feature);
        spots.set(feature, { feature, x, y, text, width: text === "" ? 0 : wide(text) + labelPadding, side: null });
      }
    }
  };
  const placed = (resolution: number) => {
    if (at === resolution) return spots;
    if (at === 0) look();
    const all = [...spots.values()];
    const sides = placeLabels([...all.map(({ x, y, width }): LabelPoint => ({ x: x / resolution, y: -y / resolution, width })),
      ...crossings().map(([x = 0, y = 0]): LabelPoint => ({ x: x / resolution, y: -y / resolution, width: 0, radius: crossingRadius }))]);
    all.forEach((s, i) => (s.side = sides[i] ?? null));
    at = resolution;
    return spots;
  };
  return {
    sideOf: (f, resolution) => placed(resolution).get(f)?.side ?? null,
    textOf,
    setSources(records, at) {
      [layers, crossings] = [records, at];
    },
    someHidden(view, resolution) {
      for (const { x, y, text, side } of placed(resolution).values()) {
        if (side === null && text !== "" && containsXY(view, x, y)) return true;
      }
      return false;
    },
    refresh() {
      at = 0;
      for (const l of layers) l.parts[1].changed();
    },
  };
}

function textMeasurer(): (text: string) => number {
  const pen = document.createElement("canvas").getContext("2d");
  if (pen !== null) pen.font = depthFont;
  const known = new Map<string, number>();
  return (text) => {
    let w = known.get(text);
    if (w === undefined) {
      w = Math.ceil(pen?.measureText(text).width ?? text.length * 9);
      known.set(text, w);
    }
    return w;
  };
}
