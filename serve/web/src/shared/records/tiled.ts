// Tiled records: large ones, drawn from vector tiles of what is in view. A tap shows the
// features as packed, not as they are in the tiles.
import Feature from "ol/Feature";
import type OLMap from "ol/Map";
import type { Coordinate } from "ol/coordinate";
import type { Extent } from "ol/extent";
import type VectorLayer from "ol/layer/Vector";
import { getPointResolution, toLonLat } from "ol/proj";
import type VectorSource from "ol/source/Vector";
import { getJSON, UserError } from "../lib/http";
import { say } from "../lib/words";
import { type Hit, isOn, isTiled, type RecordLayer } from "./layer";
import { parseFeatures } from "./load";
import { mergedWith } from "./record";
import { type FeedTarget, makeTileFeed, type TileFeed } from "./tilefeed";

/** The features of tiled records near a tapped place. */
export interface NearbyRecords {
  hits: Hit[];
  /** how many there are, which may be more than `hits` */
  matched: number;
}

/** How many of the features in view are drawn. */
export interface DrawnCount {
  drawn: number;
  recorded: number;
  /** whether some are still loading */
  waiting: boolean;
}

export interface TiledRecords {
  /** Loads what is in view of a record, from then on at every move of the map. */
  load(l: RecordLayer): Promise<void>;
  near(place: Coordinate, resolution: number): Promise<NearbyRecords>;
  drawn(view: Extent): DrawnCount;
  /** Ends all requests: the server has another version of the pack. */
  stop(): void;
}

/** How near a tapped place must be, in pixels: half a thumb. */
export const thumb = 22;

/** Feeds the tiled ones of a pack's records. `changed` runs after other features are drawn, `failed` when loading fails. */
export function makeTiledRecords(map: OLMap, layers: RecordLayer[], changed: () => void, failed: (fault: string) => void): TiledRecords {
  const feeds = new Map<RecordLayer, TileFeed>();
  let stopped = false;
  for (const l of layers.filter(isTiled)) feeds.set(l, attachFeed(map, feedTargetOf(l), l.parts[0], changed, failed));
  return {
    load: (l) => feeds.get(l)?.load() ?? Promise.resolve(),
    async near(place, resolution) {
      if (stopped && feeds.size > 0) throw new UserError(say("load.other_pack"));
      const on = [...feeds.keys()].filter((l) => isOn(l) && l.content);
      const all = await Promise.all(on.map((l) => recordsNear(l, place, resolution)));
      return { hits: all.flatMap((n) => n.hits), matched: all.reduce((sum, n) => sum + n.matched, 0) };
    },
    drawn(view) {
      const sum: DrawnCount = { drawn: 0, recorded: 0, waiting: false };
      for (const [l, feed] of feeds) {
        if (!isOn(l)) continue;
        sum.waiting ||= feed.waiting();
        l.parts[0].getSource()?.forEachFeatureInExtent(view, (f) => {
          if (f.get("layer") === "faces" && mergedWith(f) === 0) return; // its edge is counted
          sum.drawn++;
          sum.recorded += 1 + mergedWith(f);
        });
      }
      return sum;
    },
    stop() {
      stopped = true;
      feeds.forEach((f) => f.stop());
    },
  };
}

/** Feeds a target at every move of the map. */
export function attachFeed(map: OLMap, target: FeedTarget, layer: VectorLayer, changed: () => void, failed: (fault: string) => void): TileFeed {
  const feed = makeTileFeed(target, map, changed);
  const update = () => void feed.update().then((fault) => fault !== "" && failed(fault));
  map.on("moveend", update);
  layer.on("change:visible", update);
  return feed;
}

function feedTargetOf(l: RecordLayer): FeedTarget {
  return {
    what: say("load.record", { title: l.overlay.title }),
    tilejson: l.overlay.tilejson ?? "",
    visibleAt: () => isOn(l),
    show: (records, dots) => l.parts.forEach((p, i) => replaceSource(p, i < 3 ? records : dots)),
    report(fault, content) {
      l.fault = fault;
      if (content) [l.content, l.notDrawn] = [content, content.not_drawn ?? 0];
    },
  };
}

/** Replaces the source of a layer. */
export function replaceSource(layer: VectorLayer, source: VectorSource): void {
  const before = layer.getSource();
  layer.setSource(source);
  before?.clear(true); // its features live on in the new source
}

async function recordsNear(l: RecordLayer, place: Coordinate, resolution: number): Promise<NearbyRecords> {
  const { found, matched } = await fetchNear(l.overlay.near ?? "", say("load.record_here", { title: l.overlay.title }), place, resolution);
  return { hits: found.map((feature): Hit => ({ feature, overlay: l.overlay })), matched };
}

/** Fetches the features, as packed, within the tolerance of a tap. */
export async function fetchNear(url: string, what: string, place: Coordinate, resolution: number): Promise<{ found: Feature[]; matched: number }> {
  const [lon, lat] = toLonLat(place) as [number, number];
  const within = Math.min(thumb * getPointResolution("EPSG:3857", resolution, place, "m"), 100_000);
  const data = await getJSON<{ numberMatched?: number }>(`${url}&near=${lon.toFixed(9)},${lat.toFixed(9)}&within=${within.toFixed(4)}`, what);
  const found = parseFeatures(data, what);
  return { found, matched: Math.max(found.length, data.numberMatched ?? 0) };
}
