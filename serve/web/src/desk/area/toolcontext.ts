// What the tools that draw and change shapes are given, and what they tell.
import type OLMap from "ol/Map";
import type { LonLat } from "../../shared/coords/geodesic";
import type { Units } from "../../shared/lib/units";
import type { Shape } from "./shapes";
import type { Sketch } from "./sketch";

export type ToolKind = "polygon" | "route" | "circle";

/** What is under the pointer's work now, many times a second. */
export interface Live {
  kind: Shape["kind"];
  lines: LonLat[][];
  /** of a circle */
  metres?: number;
}

export interface ToolContext {
  map: OLMap;
  sketch: Sketch;
  units(): Units;
  /** the width of a new route, as typed */
  width(): string;
  /** A shape was drawn to its end. */
  drawn(s: Shape): void;
  /** A shape was changed, at the end of a drag. */
  changed(before: Shape, after: Shape): void;
  /** What is drawn or dragged right now; null at its end. */
  live(l: Live | null): void;
  chosen(s: Shape | null): void;
}

/** How near a corner is hit or snapped to, in pixels. */
export const reach = 12;
