// The depths written beside readings: one placement for all records that are on.
import type Feature from "ol/Feature";
import type { FeatureLike } from "ol/Feature";
import { containsXY, type Extent } from "ol/extent";
import Point from "ol/geom/Point";
import type { Layer } from "./overlays";
import { place, type Mark, type Side } from "./placing";
import { metresOf } from "./record";
import { font } from "./look";
import { depthText, type Units } from "./units";

export const depthFont = `700 15px ${font}`;

/** What a label is wider than its text, in pixels: padding and edge. */
const frame = 14;

export interface Depths {
  /** Where a reading's depth stands at a resolution; null where it is left out. */
  sideOf(f: FeatureLike, resolution: number): Side | null;
  /** The text of a reading's depth, "" where it has none. */
  textOf(f: FeatureLike): string;
  /** Whether any depth is left out in a view. */
  someHidden(view: Extent, resolution: number): boolean;
  /** To be called when records were loaded, or put on or off. */
  changed(): void;
}

/** Half the width of a crossing's mark, in pixels. */
const crossingRadius = 15;

/** Places depths of the layers that `layers` gives, in the job's units, clear of the crossings that are on. */
export function makeDepths(layers: () => Layer[], units: Units, crossings: () => number[][]): Depths {
  const wide = textWidth();
  let at = 0;
  let sides = new Map<FeatureLike, Side | null>();
  const textOf = (f: FeatureLike) => {
    const d = metresOf(f, "depth_m");
    return d === null ? "" : depthText(d, units);
  };
  const shown = () => layers().filter((l) => l.parts[1].getVisible()).flatMap(points);
  const placed = (resolution: number) => {
    if (at === resolution) return sides;
    const all = shown();
    const marks = all.map(([f, x, y]): Mark => {
      const text = textOf(f);
      return { x: x / resolution, y: -y / resolution, width: text === "" ? 0 : wide(text) + frame };
    });
    const found = place([...marks, ...crossings().map(([x = 0, y = 0]): Mark => (
      { x: x / resolution, y: -y / resolution, width: 0, radius: crossingRadius }))]);
    at = resolution;
    sides = new Map(all.map(([f], i) => [f, found[i] ?? null]));
    return sides;
  };
  return {
    sideOf: (f, resolution) => placed(resolution).get(f) ?? null,
    textOf,
    someHidden(view, resolution) {
      const now = placed(resolution);
      return shown().some(([f, x, y]) => containsXY(view, x, y) && textOf(f) !== "" && now.get(f) === null);
    },
    changed() {
      at = 0;
      for (const l of layers()) l.parts[1].changed();
    },
  };
}

function points(l: Layer): [Feature, number, number][] {
  const found: [Feature, number, number][] = [];
  for (const f of l.parts[0].getSource()?.getFeatures() ?? []) {
    const g = f.getGeometry();
    if (!(g instanceof Point)) continue;
    const [x, y] = g.getCoordinates();
    if (x !== undefined && y !== undefined) found.push([f, x, y]);
  }
  return found;
}

function textWidth(): (text: string) => number {
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
