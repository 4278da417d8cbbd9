// Records under the ground, and the edge of the job, as map layers.
import type Feature from "ol/Feature";
import type { Extent } from "ol/extent";
import { createEmpty, extend, isEmpty } from "ol/extent";
import GeoJSON from "ol/format/GeoJSON";
import { type Geometry, MultiPoint } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import type { StyleFunction } from "ol/style/Style";
import { tiledLineStyle, tiledPointStyle, bundleStyle } from "./tiledstyles";
import { UserError, getJSON, words } from "../lib/http";
import type { DepthLabels } from "./depthlabels";
import { qualityLevelOf } from "./record";
import { areaStyle, lineStyle, pointStyle } from "./styles";
import type { Overlay } from "../lib/api";
import { say } from "../lib/words";

/** One record on the map: its lines, above all records' lines its points, and of a large one the dots of its points. */
export interface RecordLayer {
  overlay: Overlay;
  parts: [VectorLayer, VectorLayer, ...VectorLayer[]];
  /** what went wrong with loading it, "" when it is drawn */
  fault: string;
  /** how many of its records cannot be read or lie off the globe */
  notDrawn: number;
  /** of a large record: what the laptop says it holds */
  content?: RecordContent | undefined;
}

/** Whether a record is on. */
export function isOn(l: RecordLayer): boolean {
  return l.parts[0].getVisible();
}

/** Puts a record on or off. */
export function setOn(l: RecordLayer, on: boolean): void {
  for (const p of l.parts) p.setVisible(on);
}

/** What a record holds, once it is loaded. */
export interface RecordContent {
  features: number;
  /** of a large record: how many cannot be read or lie off the globe */
  not_drawn?: number;
  /** whether all of them are points */
  points: boolean;
  /** the quality levels found in it, "" for none stated */
  levels: string[];
}

/** Looks through a record; null while it is not loaded. */
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

/** Makes each point of a bundle a feature of its own, so that each has its label and its tap. */
function splitMultiPoint(f: Feature): Feature[] {
  const g = f.getGeometry();
  if (!(g instanceof MultiPoint)) return [f];
  return g.getPoints().map((p) => {
    const one = f.clone();
    one.setGeometry(p);
    return one;
  });
}

/** Reads features of the own server, and how many it left out because they cannot be drawn; `what` names them in a failure. */
export async function fetchFeatures(url: string, what: string): Promise<{ features: Feature[]; notDrawn: number }> {
  const data = await getJSON<{ not_drawn?: number }>(url, what);
  return { features: parseFeatures(data, what), notDrawn: data.not_drawn ?? 0 };
}

/** Reads features out of an answer. */
export function parseFeatures(data: object, what: string): Feature[] {
  try {
    return new GeoJSON().readFeatures(data, { dataProjection: "EPSG:4326", featureProjection: "EPSG:3857" });
  } catch {
    throw new UserError(say("load.not_geojson", { what }));
  }
}

/** The layers of a record, still empty; `fill` loads it. Earlier records (a low `order`) lie on top. */
export function makeRecordLayer(overlay: Overlay, depths: DepthLabels, order: number): RecordLayer {
  const source = new VectorSource();
  const part = (style: StyleFunction, floor: number) => new VectorLayer({
    source, style, zIndex: floor - order / 1000, declutter: "records", renderBuffer: 200,
  });
  const large = overlay.tilejson !== undefined;
  const lines = large ? tiledLineStyle(overlay) : lineStyle(overlay);
  const points = large ? tiledPointStyle(overlay, depths) : pointStyle(overlay, depths);
  // Dots make room for nothing, and all at one go they are drawn fastest straight onto the canvas.
  const dots = () => new VectorLayer({ source: new VectorSource(), style: bundleStyle(overlay), zIndex: 30 - order / 1000, renderBuffer: 200 });
  return { overlay, parts: [part(lines, 21), part(points, 31), ...(large ? [dots()] : [])], fault: say("load.not_yet"), notDrawn: 0 };
}

/** Loads a record into its layer. A failure is kept in `fault`, never shown as an empty record. */
export async function loadRecord(l: RecordLayer): Promise<void> {
  try {
    const { features, notDrawn } = await fetchFeatures(l.overlay.url, say("load.record", { title: l.overlay.title }));
    l.notDrawn = notDrawn;
    const source = l.parts[0].getSource();
    source?.clear();
    source?.addFeatures(features.flatMap(splitMultiPoint));
    l.fault = "";
  } catch (e) {
    l.fault = words(e);
  }
}

/** The ground of a job. */
export interface DigArea {
  layer: VectorLayer;
  /** what to show for the whole job */
  extent: Extent;
  /** the shapes of dig area and margin: where the pack should have its picture */
  wanted: Geometry[];
}

/** Parts of the ground that the printed brief alone goes by: the routes, and what else the dig area is. */
const paperOnly: unknown[] = ["route", "apart"];

/** The edge of the dig area and of the margin. */
export async function loadDigArea(url: string): Promise<DigArea> {
  const what = say("load.dig_area");
  const { features: all, notDrawn } = await fetchFeatures(url, what);
  if (notDrawn > 0) throw new UserError(say("layers.not_drawn_of", { record: what, n: notDrawn }));
  const features = all.filter((f) => !paperOnly.includes(f.get("part")));
  const extent = createEmpty();
  for (const f of features) {
    if (f.get("part") !== "margin") extendBy(extent, f);
  }
  if (isEmpty(extent)) features.forEach((f) => extendBy(extent, f));
  const source = new VectorSource({ features });
  const wanted = features.flatMap((f) => f.getGeometry() ?? []);
  return { layer: new VectorLayer({ source, style: areaStyle(), zIndex: 10 }), extent, wanted };
}

function extendBy(extent: Extent, f: Feature): void {
  const g = f.getGeometry();
  if (g) extend(extent, g.getExtent());
}
