// A shape while it is drawn: its style, what it measures, and what it becomes.
import type Feature from "ol/Feature";
import { LineString, Polygon } from "ol/geom";
import type Geometry from "ol/geom/Geometry";
import { Style } from "ol/style";
import { inverse } from "../../shared/coords/geodesic";
import { edgeStyles } from "../../shared/map/digarea";
import type { Units } from "../../shared/lib/units";
import { lengthTyped, typed } from "./ground";
import type { Shape } from "./shapes";
import { bandStyles, circleGeometry, cornersOf, toPlace } from "./sketch";
import type { Live, ToolKind } from "./toolcontext";

/** How a shape is drawn while it is; `width` of a route, as typed. */
export function draftStyle(k: ToolKind, f: Feature<Geometry>, resolution: number, width: string): Style[] {
  const g = f.getGeometry();
  if (k === "route" && g instanceof LineString) return bandStyles(g, lengthTyped(width) ?? 0, resolution);
  if (k === "circle" && g instanceof LineString) {
    const [a, b] = g.getCoordinates();
    if (a === undefined || b === undefined) return [];
    const geometry = circleGeometry(toPlace(a), inverse(toPlace(a), toPlace(b)).metres);
    return edgeStyles("area").map((s) => new Style({ stroke: s.getStroke() as never, geometry }));
  }
  return g instanceof Polygon || g instanceof LineString ? edgeStyles("area") : [];
}

/** The shape that was drawn; null where there are too few corners for one. */
export function drawnShape(k: ToolKind, g: Geometry, width: string, units: Units): Shape | null {
  if (g instanceof Polygon) {
    const rings = g.getCoordinates().map((r) => r.map(toPlace));
    return (rings[0]?.length ?? 0) < 4 ? null : { kind: "polygon", rings };
  }
  const line = (g as LineString).getCoordinates().map(toPlace);
  const [a, b] = line;
  if (a === undefined || b === undefined) return null;
  if (k === "route") return { kind: "route", line, width: width };
  const metres = inverse(a, b).metres;
  return metres > 0 ? { kind: "circle", center: a, radius: typed(metres, units) } : null;
}

export function liveOf(kind: ToolKind, g: Geometry): Live {
  const lines = cornersOf(g);
  const [a, b] = lines[0] ?? [];
  if (kind !== "circle") return { kind: kind === "route" ? "route" : "polygon", lines };
  return { kind: "circle", lines: [], metres: a !== undefined && b !== undefined ? inverse(a, b).metres : 0 };
}
