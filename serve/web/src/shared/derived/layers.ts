// What was worked out of the records, as map layers: tolerance zones, lines
// through readings, lines beside one another, what enters the dig area, and crossings.
import type Feature from "ol/Feature";
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

/** One kind of what was worked out; it can be put on and off. */
export interface DerivedLayer {
  id: "zones" | "beside" | "entries" | "crossings";
  title: string;
  summary: string;
  layer: VectorLayer;
  /** of large ones: what the laptop says there is */
  content?: RecordContent | undefined;
}

/** All that was worked out. */
export interface Derived {
  layers: DerivedLayer[];
  /** what went wrong with loading it, "" when it is drawn or the pack does not tell */
  fault: string;
  /** Loads it; a failure is kept in `fault`. */
  load(): Promise<void>;
  /** Where the crossings that are on lie, in Web Mercator. */
  crossings(): number[][];
  /** To be called when records were put on or off: what belongs to one that is off goes with it. */
  redraw(): void;
}

// Flags give way to crossings and depths, so all share their decluttering, the flags from below.
const kinds: { id: DerivedLayer["id"]; parts: string[]; title: string; words: string; floor: number; declutter: string | boolean }[] = [
  { id: "zones", parts: ["zone", "uncertainty", "line"], floor: 12, declutter: false, title: say("worked.zones"),
    words: say("worked.zones_words") },
  { id: "beside", parts: ["beside"], floor: 11, declutter: false, title: say("worked.beside"), words: say("worked.beside_words") },
  { id: "entries", parts: ["entry"], floor: 30, declutter: "records", title: say("worked.entries"), words: say("worked.entries_words") },
  { id: "crossings", parts: ["crossing"], floor: 33, declutter: "records", title: say("worked.crossings"), words: say("worked.crossings_words") },
];

/** The layers, still empty; `url` is "" when the pack does not tell. */
export function makeDerived(url: string, records: RecordLayer[]): Derived {
  const recordOf = (id: unknown) => records.find((r) => r.overlay.id === boundedText(id));
  const shown = (f: FeatureLike) => recordIdsOf(f as Feature).every((id) => {
    const r = recordOf(id);
    return r !== undefined && isOn(r);
  });
  const layers = kinds.map((k): DerivedLayer => ({
    id: k.id, title: k.title, summary: k.words,
    layer: new VectorLayer({
      properties: { exact: k.id === "zones" }, source: new VectorSource(), zIndex: k.floor, declutter: k.declutter, renderBuffer: 100,
      style: derivedStyle(recordOf, shown),
    }),
  }));
  const known: Derived = {
    layers,
    fault: "",
    async load() {
      if (url === "") return;
      try {
        const what = say("load.worked_out");
        const { features: all, notDrawn } = await fetchFeatures(url, what);
        kinds.forEach((k, i) => {
          if (layers[i]?.content) return; // fed otherwise
          const source = layers[i]?.layer.getSource();
          source?.clear();
          source?.addFeatures(all.filter((f) => k.parts.includes(boundedText(f.get("part")))));
        });
        known.fault = notDrawn > 0 ? say("layers.not_drawn_of", { record: what, n: notDrawn }) : "";
      } catch (e) {
        known.fault = errorMessage(e);
      }
    },
    crossings() {
      const l = layers.find((x) => x.id === "crossings")?.layer;
      if (!l?.getVisible()) return [];
      return (l.getSource()?.getFeatures() ?? []).filter(shown).flatMap((f) => {
        const g = f.getGeometry();
        return g instanceof Point ? [g.getCoordinates()] : [];
      });
    },
    redraw: () => layers.forEach((l) => l.layer.changed()),
  };
  return known;
}

/** The records that a feature was worked out of. A line's ID begins with its record's. */
export function recordIdsOf(f: Feature): string[] {
  const lines: unknown = f.get("lines") ?? [f.get("line")];
  return Array.isArray(lines) ? lines.map((l) => boundedText(l).split("/")[0] ?? "") : [];
}
