// The depth labels of readings: one placement for all records that are on.
import type { FeatureLike } from "ol/Feature";
import { containsXY, type Extent } from "ol/extent";
import Point from "ol/geom/Point";
import { depthText, type Units } from "../lib/units";
import { type LabelPoint, placeLabels, type Side } from "./labelplacement";
import type { RecordLayer } from "./layer";
import { mergedWith, numberOf } from "./record";
import { font } from "./symbology";

export const depthFont = `700 15px ${font}`;
/** Padding and edges of a label, in pixels of width. */
const labelPadding = 14;

export interface DepthLabels {
  /** The side of its dot on which a label is drawn at a resolution; null where it is hidden. */
  sideOf(f: FeatureLike, resolution: number): Side | null;
  /** The depth as text, "" for none. */
  textOf(f: FeatureLike): string;
  /** Whether any label is hidden in a view. */
  someHidden(view: Extent, resolution: number): boolean;
  /** Sets the records to label, and the crossings that labels keep clear of. */
  setSources(layers: RecordLayer[], crossings: () => number[][]): void;
  /** Places all labels again: after records were loaded, or switched on or off. */
  refresh(): void;
}

/** Half the width of a crossing's mark, in pixels. */
const crossingRadius = 15;

/** A point of a record that is on, in Web Mercator, with its label. */
type LabeledPoint = LabelPoint & { feature: FeatureLike; text: string; side: Side | null };

/** Places the depths of records, in the job's units. */
export function makeDepthLabels(units: Units): DepthLabels {
  let layers: RecordLayer[] = [];
  let crossings: () => number[][] = () => [];
  const widthOf = textMeasurer();
  let at = 0;
  let points = new Map<FeatureLike, LabeledPoint>();
  const textOf = (f: FeatureLike) => {
    const d = mergedWith(f) > 0 ? null : numberOf(f, "depth_m"); // the depth of one of several points is not that of all
    return d === null ? "" : depthText(d, units);
  };
  const collect = () => {
    points = new Map();
    for (const l of layers) {
      if (!l.parts[1].getVisible()) continue;
      for (const feature of l.parts[0].getSource()?.getFeatures() ?? []) {
        const g = feature.getGeometry();
        if (!(g instanceof Point)) continue;
        const [x = 0, y = 0] = g.getFlatCoordinates();
        const text = textOf(feature);
        points.set(feature, { feature, x, y, text, width: text === "" ? 0 : widthOf(text) + labelPadding, side: null });
      }
    }
  };
  const placed = (resolution: number) => {
    if (at === resolution) return points;
    if (at === 0) collect();
    const all = [...points.values()];
    const sides = placeLabels([...all.map(({ x, y, width }): LabelPoint => ({ x: x / resolution, y: -y / resolution, width })),
      ...crossings().map(([x = 0, y = 0]): LabelPoint => ({ x: x / resolution, y: -y / resolution, width: 0, radius: crossingRadius }))]);
    all.forEach((s, i) => (s.side = sides[i] ?? null));
    at = resolution;
    return points;
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
  const widths = new Map<string, number>();
  return (text) => {
    let w = widths.get(text);
    if (w === undefined) {
      w = Math.ceil(pen?.measureText(text).width ?? text.length * 9);
      widths.set(text, w);
    }
    return w;
  };
}
