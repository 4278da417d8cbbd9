// Map layers derived from records: tolerance zones, lines through readings, lines beside each
// other, lines that enter the dig area, and crossings.
import type { FeatureLike } from "ol/Feature";
import type { Extent } from "ol/extent";
import { Point } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { errorMessage } from "../lib/http";
import { say } from "../lib/words";
import { isOn, type RecordContent, type RecordLayer } from "../records/layer";
import { fetchFeatures } from "../records/load";
import type { DerivedPlaces, MarkPlaces } from "../records/markplaces";
import { utilityOf } from "../records/placed";
import { boundedText, numberOf } from "../records/record";
import { derivedStyle, drawnLineStyle, isZoneWide } from "./styles";

/** One kind of derived features, which can be switched on and off. */
export interface DerivedLayer {
  id: "zones" | "beside" | "entries" | "crossings";
  title: string;
  summary: string;
  layer: VectorLayer;
  /** of a tiled one: its content according to the server */
  content?: RecordContent | undefined;
}

/** How many zones of a view are drawn, and how many are not because they are too narrow on screen, with the letters of their utilities. */
export interface ZoneCount {
  drawn: number;
  hidden: number;
  letters: string[];
}

/** All derived layers of a pack. */
export interface Derived {
  layers: DerivedLayer[];
  /** the lines through readings, over the edges of records; shown with the zones, of whose features they are */
  drawnLines: VectorLayer;
  /** why loading failed, "" if it did not or the pack has none */
  fault: string;
  /** Loads all; a failure is stored in `fault`. */
  load(): Promise<void>;
  /** Whether all records that a feature is derived from are on. */
  isShown(f: FeatureLike): boolean;
  /** Crossings and flags that are on, with their places in Web Mercator. */
  places(): DerivedPlaces;
  /** The zones of a view that are on. */
  zonesIn(view: Extent, resolution: number): ZoneCount;
  /** Redraws after records were switched on or off: features derived from a record that is off are hidden. */
  redraw(): void;
}

const kinds: { id: DerivedLayer["id"]; parts: string[]; title: string; words: string; floor: number }[] = [
  { id: "zones", parts: ["zone", "uncertainty", "line"], floor: 11.2, title: say("worked.zones"),
    words: say("worked.zones_words") },
  { id: "beside", parts: ["beside"], floor: 11, title: say("worked.beside"), words: say("worked.beside_words") },
  { id: "entries", parts: ["entry"], floor: 30, title: say("worked.entries"), words: say("worked.entries_words") },
  { id: "crossings", parts: ["crossing"], floor: 33, title: say("worked.crossings"), words: say("worked.crossings_words") },
];

/** The empty layers; `url` is "" for a pack without derived features, `ground` the meters on the ground to a projected one. */
export function makeDerived(url: string, records: RecordLayer[], places: MarkPlaces, ground: () => number): Derived {
  const recordOf = (id: unknown) => records.find((r) => r.overlay.id === boundedText(id));
  const isShown = (f: FeatureLike) => recordIdsOf(f).every((id) => records.some((r) => r.overlay.id === id && isOn(r)));
  const context = { recordOf, shown: isShown, places, ground };
  const layers = kinds.map((k): DerivedLayer => ({
    id: k.id, title: k.title, summary: k.words,
    layer: new VectorLayer({
      properties: { exact: k.id === "zones" }, source: new VectorSource(), zIndex: k.floor, renderBuffer: 100,
      style: derivedStyle(context),
    }),
  }));
  const drawnLines = new VectorLayer({ zIndex: 12, renderBuffer: 100, style: drawnLineStyle(context) });
  const zones = layers[0]?.layer;
  const follow = () => {
    drawnLines.setSource(zones?.getSource() ?? null);
    drawnLines.setVisible(zones?.getVisible() === true);
  };
  zones?.on(["change:visible", "change:source"] as never, follow);
  follow();
  const featuresOn = (id: DerivedLayer["id"]) => {
    const l = layers.find((x) => x.id === id)?.layer;
    return l?.getVisible() ? (l.getSource()?.getFeatures() ?? []).filter(isShown) : [];
  };
  const derived: Derived = {
    layers,
    drawnLines,
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
    places: () => ({
      crossings: featuresOn("crossings").flatMap((f): [FeatureLike, number[]][] => {
        const g = f.getGeometry();
        return g instanceof Point ? [[f, g.getCoordinates()]] : [];
      }),
      flags: featuresOn("entries"),
      lines: zones?.getVisible() === true ? (zones.getSource()?.getFeatures() ?? []).filter((f) => f.get("part") === "line" && isShown(f)).map((f) => {
        const record = recordOf(boundedText(f.get("line")).split("/")[0]);
        return [f, record ? utilityOf(record) : ""];
      }) : [],
    }),
    zonesIn(view, resolution) {
      const count: ZoneCount = { drawn: 0, hidden: 0, letters: [] };
      if (zones?.getVisible() !== true) return count;
      zones.getSource()?.forEachFeatureIntersectingExtent(view, (f) => {
        if (!["zone", "uncertainty"].includes(boundedText(f.get("part"))) || !isShown(f)) return;
        if (isZoneWide(numberOf(f, "reach_m") ?? Infinity, resolution, ground())) count.drawn++;
        else if (f.get("part") === "zone") {
          count.hidden++;
          const letter = recordOf(boundedText(f.get("line")).split("/")[0])?.overlay.letter ?? "";
          if (letter !== "" && !count.letters.includes(letter)) count.letters.push(letter);
        }
      });
      count.letters.sort();
      return count;
    },
    redraw: () => [...layers.map((l) => l.layer), drawnLines].forEach((l) => l.changed()),
  };
  return derived;
}

/** The records that a feature is derived from. The ID of a line begins with that of its record. */
export function recordIdsOf(f: FeatureLike): string[] {
  const lines: unknown = f.get("lines") ?? [f.get("line")];
  return Array.isArray(lines) ? lines.map((l) => boundedText(l).split("/")[0] ?? "") : [];
}
