// Map layers derived from records: tolerance zones, lines through readings, lines beside each
// other, lines that enter the dig area, and crossings.
import type { FeatureLike } from "ol/Feature";
import Point from "ol/geom/Point";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { errorMessage } from "../lib/http";
import { say } from "../lib/words";
import { isOn, type RecordContent, type RecordLayer } from "../records/layer";
import { fetchFeatures } from "../records/load";
import { boundedText } from "../records/record";
import { derivedStyle } from "./styles";

/** One kind of derived features, which can be switched on and off. */
export interface DerivedLayer {
  id: "zones" | "beside" | "entries" | "crossings";
  title: string;
  summary: string;
  layer: VectorLayer;
  /** of a tiled one: its content according to the server */
  content?: RecordContent | undefined;
}

/** All derived layers of a pack. */
export interface Derived {
  layers: DerivedLayer[];
  /** why loading failed, "" if it did not or the pack has none */
  fault: string;
  /** Loads all; a failure is stored in `fault`. */
  load(): Promise<void>;
  /** Whether all records that a feature is derived from are on. */
  isShown(f: FeatureLike): boolean;
  /** The positions of crossings that are isShown, in Web Mercator. */
  crossings(): number[][];
  /** Redraws after records were switched on or off: features derived from a record that is off are hidden. */
  redraw(): void;
}

// Flags yield to crossings and depths: all share a declutter group, with the flags below.
const kinds: { id: DerivedLayer["id"]; parts: string[]; title: string; words: string; floor: number; declutter: string | boolean }[] = [
  { id: "zones", parts: ["zone", "uncertainty", "line"], floor: 12, declutter: false, title: say("worked.zones"),
    words: say("worked.zones_words") },
  { id: "beside", parts: ["beside"], floor: 11, declutter: false, title: say("worked.beside"), words: say("worked.beside_words") },
  { id: "entries", parts: ["entry"], floor: 30, declutter: "records", title: say("worked.entries"), words: say("worked.entries_words") },
  { id: "crossings", parts: ["crossing"], floor: 33, declutter: "records", title: say("worked.crossings"), words: say("worked.crossings_words") },
];

/** The empty layers; `url` is "" for a pack without derived features. */
export function makeDerived(url: string, records: RecordLayer[]): Derived {
  const recordOf = (id: unknown) => records.find((r) => r.overlay.id === boundedText(id));
  const isShown = (f: FeatureLike) => recordIdsOf(f).every((id) => records.some((r) => r.overlay.id === id && isOn(r)));
  const layers = kinds.map((k): DerivedLayer => ({
    id: k.id, title: k.title, summary: k.words,
    layer: new VectorLayer({
      properties: { exact: k.id === "zones" }, source: new VectorSource(), zIndex: k.floor, declutter: k.declutter, renderBuffer: 100,
      style: derivedStyle(recordOf, isShown),
    }),
  }));
  const derived: Derived = {
    layers,
    fault: "",
    isShown,
    async load() {
      if (url === "") return;
      try {
        const what = say("load.worked_out");
        const { features: all, notDrawn } = await fetchFeatures(url, what);
        kinds.forEach((k, i) => {
          if (layers[i]?.content) return; // loaded from tiles
          const source = layers[i]?.layer.getSource();
          source?.clear();
          source?.addFeatures(all.filter((f) => k.parts.includes(boundedText(f.get("part")))));
        });
        derived.fault = notDrawn > 0 ? say("layers.not_drawn_of", { record: what, n: notDrawn }) : "";
      } catch (e) {
        derived.fault = errorMessage(e);
      }
    },
    crossings() {
      const l = layers.find((x) => x.id === "crossings")?.layer;
      if (!l?.getVisible()) return [];
      return (l.getSource()?.getFeatures() ?? []).filter(isShown).flatMap((f) => {
        const g = f.getGeometry();
        return g instanceof Point ? [g.getCoordinates()] : [];
      });
    },
    redraw: () => layers.forEach((l) => l.layer.changed()),
  };
  return derived;
}

/** The records that a feature is derived from. The ID of a line begins with that of its record. */
export function recordIdsOf(f: FeatureLike): string[] {
  const lines: unknown = f.get("lines") ?? [f.get("line")];
  return Array.isArray(lines) ? lines.map((l) => boundedText(l).split("/")[0] ?? "") : [];
}
