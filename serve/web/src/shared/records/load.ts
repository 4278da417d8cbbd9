// Loads records that come as GeoJSON.
import type Feature from "ol/Feature";
import GeoJSON from "ol/format/GeoJSON";
import { MultiPoint } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import type { StyleFunction } from "ol/style/Style";
import type { Overlay } from "../lib/api";
import { errorMessage, getJSON, UserError } from "../lib/http";
import { say } from "../lib/words";
import type { RecordLayer } from "./layer";
import type { MarkPlaces } from "./markplaces";
import { casingStyle, lineStyle, pointStyle, tiledPointStyle } from "./styles";
import { bundleStyle, tiledCasingStyle, tiledLineStyle } from "./tiledstyles";

/** Splits a MultiPoint, so that each point has its own label and can be tapped. */
function splitMultiPoint(f: Feature): Feature[] {
  const g = f.getGeometry();
  if (!(g instanceof MultiPoint)) return [f];
  return g.getPoints().map((p) => {
    const one = f.clone();
    one.setGeometry(p);
    return one;
  });
}

/** Fetches features, and how many the server left out because they cannot be drawn; `what` names them in an error. */
export async function fetchFeatures(url: string, what: string): Promise<{ features: Feature[]; notDrawn: number }> {
  const data = await getJSON<{ not_drawn?: number }>(url, what);
  return { features: parseFeatures(data, what), notDrawn: data.not_drawn ?? 0 };
}

/** Parses GeoJSON from WGS 84 into Web Mercator. */
export function parseFeatures(data: object, what: string): Feature[] {
  try {
    return new GeoJSON().readFeatures(data, { dataProjection: "EPSG:4326", featureProjection: "EPSG:3857" });
  } catch {
    throw new UserError(say("load.not_geojson", { what }));
  }
}

/** The empty layers of a record. Records earlier in the list (a low `order`) lie on top, and all edges under all colors. */
export function makeRecordLayer(overlay: Overlay, places: MarkPlaces, order: number): RecordLayer {
  const [source, bundles] = [new VectorSource(), new VectorSource()];
  const part = (style: StyleFunction, floor: number, of = source) => new VectorLayer({
    source: of, style, zIndex: floor - order / 1000, renderBuffer: 200,
  });
  const tiled = overlay.tilejson !== undefined;
  const lines = part(tiled ? tiledLineStyle(overlay, places) : lineStyle(overlay, places), 21);
  const points = part(tiled ? tiledPointStyle(overlay, places) : pointStyle(overlay, places), 31);
  const casings = part(tiled ? tiledCasingStyle(overlay, places) : casingStyle(overlay, places), 11.5);
  const dots = tiled ? [part(bundleStyle(overlay, false), 30, bundles), part(bundleStyle(overlay, true), 11.6, bundles)] : [];
  return { overlay, parts: [lines, points, casings, ...dots], fault: say("load.not_yet"), notDrawn: 0 };
}

/** Loads a record into its layer. A failure is stored in `fault`, and never shown as an empty record. */
export async function loadRecord(l: RecordLayer): Promise<void> {
  try {
    const { features, notDrawn } = await fetchFeatures(l.overlay.url, say("load.record", { title: l.overlay.title }));
    l.notDrawn = notDrawn;
    const source = l.parts[0].getSource();
    source?.clear();
    source?.addFeatures(features.flatMap(splitMultiPoint));
    l.fault = "";
  } catch (e) {
    l.fault = errorMessage(e);
  }
}
