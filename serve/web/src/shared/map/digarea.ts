// The dig area and its margin.
import type Feature from "ol/Feature";
import { createEmpty, extend, type Extent, isEmpty } from "ol/extent";
import type { Geometry } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { Stroke, type Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import { UserError } from "../lib/http";
import { cachedByTheme, edgeOf, theme } from "../lib/theme";
import { say } from "../lib/words";
import { fetchFeatures } from "../records/load";
import { mark } from "../records/marks";

interface DigArea {
  layer: VectorLayer;
  /** what "whole job" shows, in Web Mercator */
  extent: Extent;
  /** the dig area alone; empty where the pack tells of none */
  dug: Geometry[];
  /** dig area and margin: where the pack should have its picture */
  wanted: Geometry[];
}

/** Parts that only the printed brief uses. */
const paperOnly: unknown[] = ["route", "apart"];

/** Loads the edges of the dig area and of its margin. */
export async function loadDigArea(url: string): Promise<DigArea> {
  const what = say("load.dig_area");
  const { features: all, notDrawn } = await fetchFeatures(url, what);
  if (notDrawn > 0) throw new UserError(say("layers.not_drawn_of", { record: what, n: notDrawn }));
  const features = all.filter((f) => !paperOnly.includes(f.get("part")));
  const within = features.filter((f) => f.get("part") !== "margin");
  const inner = extentOf(within);
  const wanted = features.flatMap((f) => f.getGeometry() ?? []);
  const layer = new VectorLayer({ source: new VectorSource({ features }), style: edgeStyle(), zIndex: 10 });
  return { layer, extent: isEmpty(inner) ? extentOf(features) : inner, dug: within.flatMap((f) => f.getGeometry() ?? []), wanted };
}

function extentOf(features: Feature[]): Extent {
  const extent = createEmpty();
  for (const f of features) extend(extent, f.getGeometry()?.getExtent() ?? createEmpty());
  return extent;
}

/** White, the color of proposed excavation; the margin dashed. */
function edgeStyle(): StyleFunction {
  const edges = cachedByTheme((part) => edgeStyles(part === "margin" ? "margin" : "area"));
  return (f) => edges(String(f.get("part")));
}

export function edgeStyles(kind: "area" | "margin"): Style[] {
  const { weight } = theme();
  const edge = (width: number, color: string, lineDash: number[] = []) => mark(kind, {
    stroke: new Stroke({ color, width: width * weight, lineDash: lineDash.map((d) => d * weight), lineJoin: "miter", lineCap: "butt" }),
  });
  // By night black alone is not seen beside a dark picture: a thin light edge around it is.
  const outer = (width: number) => (edgeOf("#000000") === "" ? [] : [edge(width + 2, edgeOf("#000000"))]);
  return kind === "area" ? [...outer(8), edge(8, "#000000"), edge(4, "#ffffff")] : [...outer(4), edge(4, "#000000"), edge(2, "#ffffff", [10, 8])];
}
