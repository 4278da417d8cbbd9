// Large records: drawn from vector tiles of what is in view. What a tap tells
// comes from the records themselves, as they were packed.
import Feature from "ol/Feature";
import type OLMap from "ol/Map";
import type { Coordinate } from "ol/coordinate";
import { buffer, getIntersection, isEmpty, type Extent } from "ol/extent";
import MVT from "ol/format/MVT";
import MultiPoint from "ol/geom/MultiPoint";
import Point from "ol/geom/Point";
import { getPointResolution, toLonLat, transformExtent } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { moreOf, several } from "./cutstyles";
import type { Hit } from "./details";
import { Trouble, get, getJSON, ownPath, words } from "./get";
import { isOn, parseFeatures, type Content, type Layer } from "./overlays";
import type { TileJSON } from "./types";

/** What the laptop tells of a large record: its tiles, and what is in it. */
interface LargeJSON extends TileJSON, Content {
  tile_size: number;
}

/** What lies at a tapped place, of all large records that are on. */
export interface Near {
  hits: Hit[];
  /** how many there are, when more than are told */
  matched: number;
}

/** How much of what lies in view is drawn. */
export interface Drawn {
  drawn: number;
  recorded: number;
  /** whether some of it is still on its way */
  waiting: boolean;
}

export interface Large {
  /** Loads what is in view of a record, and from then on follows the map. */
  load(l: Layer): Promise<void>;
  near(place: Coordinate, resolution: number): Promise<Near>;
  drawn(view: Extent): Drawn;
}

/** How far beyond the screen is loaded, and how near a thumb must come, in pixels. */
const beyond = 200;
const thumb = 22;

/** How many tiles a record keeps; a screen has some ten of them. */
const mostTiles = 60;

/** Half the width of the Web Mercator square, in its own metres. */
const half = 20037508.342789244;

/** Whether a record comes as tiles. */
export function isLarge(l: Layer): boolean {
  return l.overlay.tilejson !== undefined;
}

/** The large ones of a pack's records. `changed` runs when others are drawn than before, `failed` when some could not be. */
export function makeLarge(map: OLMap, layers: Layer[], changed: () => void, failed: (l: Layer) => void): Large {
  const feeds = new Map(layers.filter(isLarge).map((l) => [l, makeFeed(l, map, changed)]));
  const follow = (l: Layer, feed: Feed) => void feed.update().then(() => l.content && l.fault !== "" && failed(l));
  for (const [l, feed] of feeds) {
    map.on("moveend", () => follow(l, feed));
    l.parts[0].on("change:visible", () => follow(l, feed));
  }
  return {
    load: (l) => feeds.get(l)?.load() ?? Promise.resolve(),
    async near(place, resolution) {
      const on = [...feeds.keys()].filter((l) => isOn(l) && l.content);
      const all = await Promise.all(on.map((l) => nearOf(l, place, resolution)));
      return { hits: all.flatMap((n) => n.hits), matched: all.reduce((sum, n) => sum + n.matched, 0) };
    },
    drawn(view) {
      const sum: Drawn = { drawn: 0, recorded: 0, waiting: false };
      for (const [l, feed] of feeds) {
        if (!isOn(l)) continue;
        sum.waiting ||= feed.waiting();
        l.parts[0].getSource()?.forEachFeatureInExtent(view, (f) => {
          if (f.get("layer") === "faces" && moreOf(f) === 0) return; // its edge is counted
          sum.drawn++;
          sum.recorded += 1 + moreOf(f);
        });
      }
      return sum;
    },
  };
}

async function nearOf(l: Layer, place: Coordinate, resolution: number): Promise<Near> {
  const [lon, lat] = toLonLat(place) as [number, number];
  const within = Math.min(thumb * getPointResolution("EPSG:3857", resolution, place, "m"), 100_000);
  const what = `The record “${l.overlay.title}” at this place`;
  const data = await getJSON<{ numberMatched?: number }>(`${l.overlay.near ?? ""}?near=${lon.toFixed(9)},${lat.toFixed(9)}&within=${within.toFixed(4)}`, what);
  const hits = parseFeatures(data, what).map((feature): Hit => ({ feature, overlay: l.overlay }));
  return { hits, matched: Math.max(hits.length, data.numberMatched ?? 0) };
}

/** One tile: its features, and the dots of its points in bundles that are drawn at one go. */
interface Cut {
  all: Feature[];
  dots: Feature[];
}

interface Feed {
  load(): Promise<void>;
  update(): Promise<void>;
  waiting(): boolean;
}

function makeFeed(l: Layer, map: OLMap, changed: () => void): Feed {
  let about: LargeJSON | null = null;
  let shown = "";
  let turn = 0;
  let arrived = 0;
  const what = `The record “${l.overlay.title}”`;
  const held = new Map<string, Promise<Cut>>();
  const tile = (t: LargeJSON, key: string) => {
    const one = held.get(key) ?? cutTile(t, key, what);
    held.delete(key);
    held.set(key, one); // the latest last
    one.catch(() => held.delete(key)); // asked for again next time
    return one;
  };
  const feed: Feed = {
    async load() {
      try {
        about ??= await getJSON<LargeJSON>(l.overlay.tilejson ?? "", what);
        l.content = about;
        l.fault = "";
      } catch (e) {
        l.fault = words(e);
        return;
      }
      await feed.update();
    },
    async update() {
      const t = about;
      const wanted = t && isOn(l) ? tilesInView(map, t) : [];
      if (!t || wanted.join() === shown) return;
      const mine = ++turn;
      try {
        const records = new VectorSource();
        const dots = new VectorSource();
        for (const one of wanted.map((key) => tile(t, key))) {
          const cut = await one;
          if (mine !== turn) return; // the map has moved on
          records.addFeatures(cut.all); // drawn by nothing yet
          dots.addFeatures(cut.dots);
          await pause();
        }
        if (mine !== turn) return;
        show(l, records, dots);
        shown = wanted.join();
        l.fault = "";
      } catch (e) {
        if (mine !== turn) return;
        l.fault = words(e);
      }
      arrived = mine;
      for (const key of [...held.keys()].slice(0, -mostTiles)) held.delete(key);
      changed();
    },
    waiting: () => arrived !== turn,
  };
  return feed;
}

/** Lets the page answer fingers between two pieces of work. */
function pause(): Promise<void> {
  return new Promise((go) => setTimeout(go));
}

function show(l: Layer, records: VectorSource, dots: VectorSource): void {
  l.parts.forEach((p, i) => {
    const before = p.getSource();
    p.setSource(i < 2 ? records : dots);
    before?.clear(true); // features go on in the new source
  });
}

/** The tiles that a view needs, "zoom/column/row": one is drawn at its own size up to twice that. */
function tilesInView(map: OLMap, t: LargeJSON): string[] {
  const view = map.getView();
  const resolution = view.getResolution();
  if (resolution === undefined) return [];
  const world = half * 2;
  const nearest = Math.floor(Math.log2(world / t.tile_size / resolution) + 0.05);
  const z = Math.max(t.minzoom ?? 0, Math.min(nearest, t.maxzoom ?? 0));
  const side = world / 2 ** z;
  let box = buffer(view.calculateExtent(), beyond * resolution);
  if (t.bounds) box = getIntersection(box, transformExtent(t.bounds, "EPSG:4326", "EPSG:3857"));
  if (isEmpty(box) && !t.bounds) return [];
  const [west, south, east, north] = box as [number, number, number, number];
  const slot = (v: number) => Math.max(0, Math.min(2 ** z - 1, Math.floor(v / side)));
  const keys: string[] = [];
  for (let y = slot(half - north); y <= slot(half - south); y++) {
    for (let x = slot(west + half); x <= slot(east + half); x++) keys.push(`${z}/${x}/${y}`);
  }
  return keys;
}

async function cutTile(t: LargeJSON, key: string, what: string): Promise<Cut> {
  const [z = 0, x = 0, y = 0] = key.split("/").map(Number);
  const path = (t.tiles[0] ?? "").replace("{z}", String(z)).replace("{x}", String(x)).replace("{y}", String(y));
  let answer: Response;
  try {
    answer = await get(ownPath(path));
  } catch {
    throw new Trouble(`A part of ${what} could not be reached. Is this device still on the job's hotspot?`);
  }
  if (answer.status === 204) return { all: [], dots: [] };
  if (!answer.ok) throw new Trouble(`A part of ${what} was not given: the laptop answered ${answer.status}.`);
  const side = (half * 2) / 2 ** z;
  const extent = [x * side - half, half - (y + 1) * side, (x + 1) * side - half, half - y * side];
  try {
    // Pieces of one thing have one number in all tiles; on the map each stands for itself.
    const format = new MVT<Feature>({ featureClass: Feature, idProperty: "none" });
    const all = format.readFeatures(await answer.arrayBuffer(), { extent, featureProjection: "EPSG:3857" });
    return { all, dots: bundles(all) };
  } catch {
    throw new Trouble(`A part of ${what} could not be drawn: the answer is damaged.`);
  }
}

/** The dots of a tile: one bundle of those that stand for themselves, one of the others. */
function bundles(all: Feature[]): Feature[] {
  const single: number[] = [];
  const many: number[] = [];
  for (const f of all) {
    const g = f.getGeometry();
    if (g instanceof Point) (moreOf(f) > 0 ? many : single).push(...g.getFlatCoordinates());
  }
  const bundle = (at: number[], stands: boolean) => (at.length === 0 ? [] : [new Feature({ geometry: new MultiPoint(at, "XY"), [several]: stands })]);
  return [...bundle(single, false), ...bundle(many, true)];
}
