// Records on the desk's map, in the marks that the phone will show.
import type OLMap from "ol/Map";
import type Feature from "ol/Feature";
import { createEmpty, extend, type Extent, isEmpty } from "ol/extent";
import type { Overlay } from "../../shared/lib/api";
import { say } from "../../shared/lib/words";
import type { Units } from "../../shared/lib/units";
import type { RecordLayer } from "../../shared/records/layer";
import { makeRecordLayer, parseFeatures } from "../../shared/records/load";
import { makeMarkPlaces } from "../../shared/records/markplaces";
import type { Summary } from "./types";

export interface Drawn {
  /** Shows these records instead of those before. */
  show(records: { summary: Summary; features: object }[]): RecordLayer[];
  /** The layers of the records, in their order. */
  layers(): RecordLayer[];
  /** Shows a record that is not taken in yet over the others; null for none. */
  preview(record: { summary: Summary; features: object } | null): RecordLayer | null;
}

export function makeDrawn(map: OLMap, units: Units): Drawn {
  const places = makeMarkPlaces(units);
  let held: RecordLayer[] = [];
  let tried: RecordLayer[] = [];
  const drop = (layers: RecordLayer[]) => layers.forEach((l) => l.parts.forEach((p) => map.removeLayer(p)));
  const add = ({ summary, features }: { summary: Summary; features: object }, order: number): RecordLayer => {
    const overlay: Overlay = { ...summary, url: "" };
    const layer = makeRecordLayer(overlay, places, order);
    layer.fault = "";
    layer.parts[0].getSource()?.addFeatures(parseFeatures(features, say("load.record", { title: overlay.title })));
    layer.parts.forEach((p) => map.addLayer(p));
    return layer;
  };
  const place = () => {
    places.setSources([...tried, ...held], () => ({ crossings: [], flags: [], lines: [] }), () => undefined);
    places.refresh();
    map.render();
  };
  return {
    layers: () => held,
    show(records) {
      drop(held);
      held = records.map((r, i) => add(r, i + 1));
      place();
      return held;
    },
    preview(record) {
      drop(tried);
      tried = record === null ? [] : [add(record, 0)];
      place();
      return tried[0] ?? null;
    },
  };
}

/** The box round the features of layers; null for none. */
export function extentOfLayers(layers: RecordLayer[]): Extent | null {
  const box = createEmpty();
  for (const l of layers) l.parts[0].getSource()?.getFeatures().forEach((f: Feature) => extend(box, f.getGeometry()?.getExtent() ?? createEmpty()));
  return isEmpty(box) ? null : box;
}
