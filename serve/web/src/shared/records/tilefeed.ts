// Keeps a large record drawn: asks for the vector tiles of what is in view, and
// hands their features on when all of them are there.
import Feature from "ol/Feature";
import type OLMap from "ol/Map";
import { buffer, getIntersection, isEmpty } from "ol/extent";
import MVT from "ol/format/MVT";
import { MultiPoint, Point } from "ol/geom";
import { transformExtent } from "ol/proj";
import VectorSource from "ol/source/Vector";
import type { TileJSON } from "../lib/api";
import { errorMessage, getJSON, ownPath, request, UserError } from "../lib/http";
import { halfWorld } from "../lib/mercator";
import { say } from "../lib/words";
import type { RecordContent } from "./layer";
import { mergedWith } from "./record";
import { isTestHole } from "./testhole";
import { mergedKey } from "./tiledstyles";

/** What the laptop tells of a large record: its tiles, and what is in it. */
interface TilesetJSON extends TileJSON, RecordContent {
  tile_size: number;
}

/** Who is fed. */
export interface FeedTarget {
  /** its name in a failure */
  what: string;
  tilejson: string;
  /** whether it is drawn at a pixel size */
  visibleAt(resolution: number): boolean;
  /** takes what is to be drawn from now on: its features, and its dots in bundles */
  show(records: VectorSource, dots: VectorSource): void;
  /** what went wrong, "" for nothing */
  fault: string;
  /** what the laptop says it holds, once that is known */
  content?: RecordContent | undefined;
  /** puts right what a tile cannot carry */
  repair?: ((f: Feature) => void) | undefined;
}

export interface TileFeed {
  load(): Promise<void>;
  update(): Promise<void>;
  /** whether something is still on its way */
  waiting(): boolean;
  /** asks for nothing more: the laptop serves another pack */
  stop(): void;
}

/** How far beyond the screen is loaded, in pixels. */
const renderMargin = 200;

/** How many tiles a record keeps; a screen has some ten of them. */
const maxTiles = 60;

/** Feeds a target with what is in view. `changed` runs when other things are drawn than before. */
export function makeTileFeed(target: FeedTarget, map: OLMap, changed: () => void): TileFeed {
  let about: TilesetJSON | null = null;
  let shown = "";
  let turn = 0;
  let arrived = 0;
  let stopped = false;
  const held = new Map<string, Promise<LoadedTile>>();
  const tile = (t: TilesetJSON, key: string) => {
    const one = held.get(key) ?? loadTile(t, key, target);
    held.delete(key);
    held.set(key, one); // the latest last
    one.catch(() => held.delete(key)); // asked for again next time
    return one;
  };
  const gather = async (t: TilesetJSON, wanted: string[], mine: number) => {
    await yieldToBrowser(); // to ask is work too, and the map has just moved
    if (mine !== turn) return;
    const records = new VectorSource();
    const dots = new VectorSource();
    for (const one of wanted.map((key) => tile(t, key))) {
      const cut = await one;
      if (mine !== turn) return; // the map has moved on
      records.addFeatures(cut.features); // drawn by nothing yet
      dots.addFeatures(cut.dots);
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
        target.content = about;
        target.fault = "";
      } catch (e) {
        target.fault = errorMessage(e);
        return;
      }
      await feed.update();
    },
    async update() {
      const t = about;
      const resolution = map.getView().getResolution() ?? 0;
      const wanted = t && target.visibleAt(resolution) ? tilesInView(map, t) : [];
      if (!t || stopped) return;
      const mine = ++turn;
      let fault = "";
      try {
        if (wanted.join() !== shown) await gather(t, wanted, mine);
      } catch (e) {
        fault = errorMessage(e);
      }
      if (mine !== turn) return;
      arrived = mine;
      target.fault = fault;
      for (const key of [...held.keys()].slice(0, -maxTiles)) held.delete(key);
      changed();
    },
    waiting: () => arrived !== turn,
    stop: () => {
      stopped = true;
    },
  };
  return feed;
}

/** One tile: its features, and the dots of its points in bundles that are drawn at one go. */
interface LoadedTile {
  features: Feature[];
  dots: Feature[];
}

function checkTileset(t: TilesetJSON, what: string): TilesetJSON {
  const good = Array.isArray(t.levels) && Array.isArray(t.tiles) && t.tile_size > 0 && Number.isFinite(t.features);
  if (!good) throw new UserError(say("load.damaged", { what }));
  return t;
}

/** Lets the page answer fingers between two pieces of work. */
function yieldToBrowser(): Promise<void> {
  return new Promise((go) => setTimeout(go));
}

/** The tiles that a view needs, "zoom/column/row": one is drawn at its own size up to twice that. */
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
  let answer: Response;
  try {
    answer = await request(ownPath(path));
  } catch {
    throw new UserError(say("load.no_answer", { what: say("load.part", { what }) }));
  }
  if (answer.status === 204) return { features: [], dots: [] };
  if (!answer.ok) throw new UserError(say("load.refused", { what: say("load.part", { what }), status: answer.status }));
  const side = (halfWorld * 2) / 2 ** z;
  const extent = [x * side - halfWorld, halfWorld - (y + 1) * side, (x + 1) * side - halfWorld, halfWorld - y * side];
  try {
    // Pieces of one thing have one number in all tiles; on the map each stands for itself.
    const format = new MVT<Feature>({ featureClass: Feature, idProperty: "none" });
    const all = format.readFeatures(await answer.arrayBuffer(), { extent, featureProjection: "EPSG:3857" });
    if (repair) all.forEach(repair);
    return { features: all, dots: bundleDots(all) };
  } catch {
    throw new UserError(say("load.part_damaged", { what }));
  }
}

/** The dots of a tile: one bundle of those that stand for themselves, one of the others. */
function bundleDots(all: Feature[]): Feature[] {
  const single: number[] = [];
  const many: number[] = [];
  for (const f of all) {
    const g = f.getGeometry();
    if (!(g instanceof Point)) continue;
    if (mergedWith(f) > 0) many.push(...g.getFlatCoordinates());
    else if (!isTestHole(f)) single.push(...g.getFlatCoordinates()); // those have a mark of their own
  }
  const bundle = (at: number[], stands: boolean) => (at.length === 0 ? [] : [new Feature({ geometry: new MultiPoint(at, "XY"), [mergedKey]: stands })]);
  return [...bundle(single, false), ...bundle(many, true)];
}
