// Loads the vector tiles in view, and passes their features on once all have arrived.
import Feature from "ol/Feature";
import type OLMap from "ol/Map";
import { buffer, getIntersection, isEmpty } from "ol/extent";
import MVT from "ol/format/MVT";
import { transformExtent } from "ol/proj";
import VectorSource from "ol/source/Vector";
import type { TileJSON } from "../lib/api";
import { errorMessage, fetchNamed, getJSON, UserError } from "../lib/http";
import { halfWorld } from "../lib/mercator";
import { say } from "../lib/words";
import type { RecordContent } from "./layer";
import { bundleDots } from "./tiledots";

/** The TileJSON of a tiled record, with its content. */
interface TilesetJSON extends TileJSON, RecordContent {
  tile_size: number;
}

/** What a feed draws to. */
export interface FeedTarget {
  /** its name in an error */
  what: string;
  tilejson: string;
  /** whether it is drawn at a resolution */
  visibleAt(resolution: number): boolean;
  /** replaces what is drawn: features, and dots in bundles */
  show(records: VectorSource, dots: VectorSource): void;
  /** takes the outcome of loading: why it failed, or "", and the content according to the server, once known */
  report(fault: string, content: RecordContent | null): void;
  /** restores values that a tile cannot carry */
  repair?: ((f: Feature) => void) | undefined;
}

export interface TileFeed {
  load(): Promise<void>;
  /** Loads what is in view; resolves to why that failed, or "". */
  update(): Promise<string>;
  /** whether some tiles are still loading */
  waiting(): boolean;
  /** ends all requests: the server has another version of the pack */
  stop(): void;
}

/** The margin around the screen that is loaded too, in pixels. */
const renderMargin = 200;
/** The most tiles that are cached; a screen has about ten. */
const maxTiles = 60;

/** Feeds a target with what is in view. `changed` runs after an update. */
export function makeTileFeed(target: FeedTarget, map: OLMap, changed: () => void): TileFeed {
  let about: TilesetJSON | null = null;
  let shown = "";
  let turn = 0;
  let arrived = 0;
  let stopped = false;
  let fault = "";
  const cache = new Map<string, Promise<LoadedTile>>();
  const tile = (t: TilesetJSON, key: string) => {
    const one = cache.get(key) ?? loadTile(t, key, target);
    cache.delete(key);
    cache.set(key, one); // the most recent last
    one.catch(() => cache.delete(key)); // the next update tries again
    return one;
  };
  const gather = async (t: TilesetJSON, wanted: string[], mine: number) => {
    await yieldToBrowser(); // requests cost time too, and the map has just moved
    if (mine !== turn) return;
    const records = new VectorSource();
    const dots = new VectorSource();
    for (const one of wanted.map((key) => tile(t, key))) {
      const loaded = await one;
      if (mine !== turn) return; // the map has moved on
      records.addFeatures(loaded.features); // on no layer yet
      dots.addFeatures(loaded.dots);
      await yieldToBrowser();
    }
    if (mine !== turn) return;
    target.show(records, dots);
    shown = wanted.join();
  };
  const feed: TileFeed = {
    async load() {
      try {
        about ??= checkTileset(await getJSON<TilesetJSON>(target.tilejson, target.what), target.what);
      } catch (e) {
        return target.report(errorMessage(e), null);
      }
      target.report("", about);
      await feed.update();
    },
    async update() {
      const t = about;
      const resolution = map.getView().getResolution() ?? 0;
      const wanted = t && target.visibleAt(resolution) ? tilesInView(map, t) : [];
      if (!t || stopped) return "";
      const mine = ++turn;
      let failed = "";
      try {
        if (wanted.join() !== shown) await gather(t, wanted, mine);
      } catch (e) {
        failed = errorMessage(e);
      }
      if (mine !== turn) return fault;
      fault = failed;
      arrived = mine;
      target.report(fault, t);
      for (const key of [...cache.keys()].slice(0, -maxTiles)) cache.delete(key);
      changed();
      return fault;
    },
    waiting: () => arrived !== turn,
    stop: () => { stopped = true; },
  };
  return feed;
}

/** A tile: its features, and the dots of its points in bundles, each drawn in one pass. */
interface LoadedTile {
  features: Feature[];
  dots: Feature[];
}

function checkTileset(t: TilesetJSON, what: string): TilesetJSON {
  const good = Array.isArray(t.levels) && Array.isArray(t.tiles) && t.tile_size > 0 && Number.isFinite(t.features);
  if (!good) throw new UserError(say("load.damaged", { what }));
  return t;
}

/** Lets the browser handle input between two pieces of work. */
const yieldToBrowser = (): Promise<void> => new Promise((go) => setTimeout(go));

/** The tiles that a view needs, "zoom/column/row"; a tile is drawn at up to twice its size. */
function tilesInView(map: OLMap, t: TilesetJSON): string[] {
  const view = map.getView();
  const resolution = view.getResolution();
  if (resolution === undefined) return [];
  const world = halfWorld * 2;
  const nearest = Math.floor(Math.log2(world / t.tile_size / resolution) + 0.05);
  const z = Math.max(t.minzoom ?? 0, Math.min(nearest, t.maxzoom ?? 0));
  const side = world / 2 ** z;
  let box = buffer(view.calculateExtent(), renderMargin * resolution);
  if (t.bounds) box = getIntersection(box, transformExtent(t.bounds, "EPSG:4326", "EPSG:3857"));
  if (isEmpty(box) && !t.bounds) return [];
  const [west, south, east, north] = box as [number, number, number, number];
  const slot = (v: number) => Math.max(0, Math.min(2 ** z - 1, Math.floor(v / side)));
  const keys: string[] = [];
  for (let y = slot(halfWorld - north); y <= slot(halfWorld - south); y++) {
    for (let x = slot(west + halfWorld); x <= slot(east + halfWorld); x++) keys.push(`${z}/${x}/${y}`);
  }
  return keys;
}

async function loadTile(t: TilesetJSON, key: string, { what, repair }: FeedTarget): Promise<LoadedTile> {
  const [z = 0, x = 0, y = 0] = key.split("/").map(Number);
  const path = (t.tiles[0] ?? "").replace("{z}", String(z)).replace("{x}", String(x)).replace("{y}", String(y));
  const part = say("load.part", { what });
  const answer = await fetchNamed(path, part);
  if (answer.status === 204) return { features: [], dots: [] };
  if (!answer.ok) throw new UserError(say("load.refused", { what: part, status: answer.status }));
  const side = (halfWorld * 2) / 2 ** z;
  const extent = [x * side - halfWorld, halfWorld - (y + 1) * side, (x + 1) * side - halfWorld, halfWorld - y * side];
  try {
    // The parts of a feature have the same id in all tiles; here each is a feature of its own.
    const format = new MVT<Feature>({ featureClass: Feature, idProperty: "none" });
    const all = format.readFeatures(await answer.arrayBuffer(), { extent, featureProjection: "EPSG:3857" });
    if (repair) all.forEach(repair);
    return { features: all, dots: bundleDots(all, side / t.tile_size) };
  } catch {
    throw new UserError(say("load.part_damaged", { what }));
  }
}
