// A record as a map layer.
import type Feature from "ol/Feature";
import type VectorLayer from "ol/layer/Vector";
import type { Overlay } from "../lib/api";
import { qualityLevelOf } from "./record";

/** One record on the map: its lines, its points above the lines of all records, the edges of both under all of them, and the dots of a tiled record. */
export interface RecordLayer {
  overlay: Overlay;
  parts: [lines: VectorLayer, points: VectorLayer, casings: VectorLayer, ...dots: VectorLayer[]];
  /** why it is not loaded, "" once it is drawn */
  fault: string;
  /** how many of its features cannot be read or lie off the globe */
  notDrawn: number;
  /** of a tiled record: its content according to the server */
  content?: RecordContent | undefined;
}

/** The content of a loaded record. */
export interface RecordContent {
  features: number;
  /** of a tiled record: how many cannot be read or lie off the globe */
  not_drawn?: number;
  /** whether all of them are points */
  points: boolean;
  /** the quality levels found in it, "" for none stated */
  levels: string[];
}

/** A feature at a tapped place, with its record. */
export interface Hit {
  feature: Feature;
  overlay: Overlay;
}

/** Whether a record is switched on. */
export const isOn = (l: RecordLayer): boolean => l.parts[0].getVisible();

/** Switches a record on or off. */
export function setOn(l: RecordLayer, on: boolean): void {
  for (const p of l.parts) p.setVisible(on);
}

/** Whether a record is drawn from vector tiles. */
export const isTiled = (l: RecordLayer): boolean => l.overlay.tilejson !== undefined;

/** The content of a record; null while it is not loaded. */
export function contentOf(l: RecordLayer): RecordContent | null {
  if (l.content) return l.content;
  if (l.fault !== "") return null;
  const all = l.parts[0].getSource()?.getFeatures() ?? [];
  return {
    features: all.length,
    points: all.length > 0 && all.every((f) => f.getGeometry()?.getType() === "Point"),
    levels: [...new Set(all.map((f) => qualityLevelOf(f, l.overlay).value))].sort(),
  };
}

/** Points first, then lines, then polygons; otherwise in the given order. */
export function pointsFirst(found: Hit[]): Hit[] {
  const rank = (h: Hit) => {
    const type = h.feature.getGeometry()?.getType() ?? "";
    return type.endsWith("Point") ? 0 : type.endsWith("LineString") ? 1 : 2;
  };
  return [...found].sort((a, b) => rank(a) - rank(b));
}
