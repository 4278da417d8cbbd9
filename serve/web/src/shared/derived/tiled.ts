// Derived features of very many readings: zones and crossings come as vector tiles, and a tap
// fetches them as packed.
import type Feature from "ol/Feature";
import type OLMap from "ol/Map";
import type { Coordinate } from "ol/coordinate";
import type { StyleFunction } from "ol/style/Style";
import type { DerivedTiles } from "../lib/api";
import { say } from "../lib/words";
import { attachFeed, fetchNear, replaceSource } from "../records/tiled";
import type { FeedTarget, TileFeed } from "../records/tilefeed";
import type { Derived, DerivedLayer } from "./layers";

/** From this resolution on, zones are not loaded: nearer than that they are drawn where they are wide enough. Projected meters per pixel. */
const maxZoneResolution = 0.5;

export interface TiledDerived {
  load(): Promise<void>;
  /** The features near a place on layers that are on. */
  near(place: Coordinate, resolution: number): Promise<Feature[]>;
  /** Whether zones are on and not loaded because the map is zoomed out too far. */
  tooFar(resolution: number): boolean;
  /** Ends all requests: the server has another version of the pack. */
  stop(): void;
}

/** Feeds the layers of zones and crossings. */
export function makeTiledDerived(
  map: OLMap, at: DerivedTiles, derived: Derived, changed: () => void, failed: (fault: string) => void,
): TiledDerived {
  const layerOf = (id: DerivedLayer["id"]) => derived.layers.find((l) => l.id === id);
  const [zones, crossings] = [layerOf("zones"), layerOf("crossings")];
  const feeds: TileFeed[] = [];
  const faults = new Map<DerivedLayer, string>();
  const feed = (l: DerivedLayer | undefined, tilejson: string, on: (resolution: number) => boolean, repair?: (f: Feature) => void) => {
    if (!l) return;
    const style = l.layer.getStyleFunction();
    if (style) l.layer.setStyle(clippedStyle(style));
    const target: FeedTarget = {
      what: say("load.layer", { title: l.title }), tilejson, visibleAt: (resolution) => l.layer.getVisible() && on(resolution), repair,
      show: (all) => replaceSource(l.layer, all),
      report(fault, content) {
        faults.set(l, fault);
        derived.fault = [...faults.values()].find((w) => w !== "") ?? "";
        l.content = content ?? l.content;
      },
    };
    feeds.push(attachFeed(map, target, l.layer, changed, failed));
  };
  feed(zones, at.zones.tilejson, (resolution) => resolution < maxZoneResolution);
  feed(crossings, at.crossings.tilejson, () => true, repairCrossing);
  return {
    async load() {
      for (const f of feeds) {
        await f.load();
        if (derived.fault !== "") return;
      }
    },
    async near(place, resolution) {
      const ask = async (l: DerivedLayer | undefined, url: string) =>
        (l?.layer.getVisible() ? (await fetchNear(url, say("load.layer_here", { title: l.title }), place, resolution)).found.filter(derived.isShown) : []);
      const all = await Promise.all([ask(crossings, at.crossings.near), ask(zones, resolution < maxZoneResolution ? at.zones.near : "")]);
      return all.flat();
    },
    stop: () => feeds.forEach((f) => f.stop()),
    tooFar: (resolution) => resolution >= maxZoneResolution && zones?.layer.getVisible() === true && (zones.content?.features ?? 0) > 0,
  };
}

/** The inside of a zone is filled without an edge, because it ends at the edge of its tile. */
function clippedStyle(style: StyleFunction): StyleFunction {
  return (f, resolution) => {
    const all = style(f, resolution);
    if (f.get("layer") !== "faces" || !Array.isArray(all)) return all;
    return all.find((s) => s.getFill() && !s.getStroke());
  };
}

// A tile carries lists as text and omits null.
function repairCrossing(f: Feature): void {
  const lines: unknown = f.get("lines");
  f.set("lines", typeof lines === "string" ? JSON.parse(lines) : [], true);
  if (f.get("separation_m") === undefined) f.set("separation_m", null, true);
}
