// The base map: tiles of the pack, requested only where the pack has any.
import type ImageTile from "ol/ImageTile";
import type Tile from "ol/Tile";
import TileState from "ol/TileState";
import { buffer, type Extent, getIntersection, getWidth, isEmpty } from "ol/extent";
import type Geometry from "ol/geom/Geometry";
import TileLayer from "ol/layer/Tile";
import { transformExtent } from "ol/proj";
import XYZ from "ol/source/XYZ";
import TileGrid from "ol/tilegrid/TileGrid";
import type { About, TileJSON } from "../lib/api";
import { ownPath, request, UserError } from "../lib/http";
import { halfWorld } from "../lib/mercator";
import { say } from "../lib/words";

/** Bounds are rounded: a sliver this thin, in meters, must not request a row of tiles. */
const boundsTolerance = 0.05;
/** How many zooms above the shallowest tiles these are still drawn; farther out, a view would request thousands. */
const underzoom = 2;

/** The base layer of a pack. Resolutions are projected meters per pixel. */
export interface BaseMap {
  layer: TileLayer;
  /** where the pack has a picture, in Web Mercator */
  extent: Extent;
  /** the resolution of the deepest tiles */
  finest: number;
  /** the resolution of the shallowest tiles */
  coarsest: number;
  /** whether tiles are drawn at a resolution, or it is too far out */
  drawnAt(resolution: number): boolean;
  /** the resolution of the coarsest tile enlarged by the server in a view, over wanted ground; 0 for none */
  coarsestEnlarged(view: Extent, resolution: number): number;
  /** Sets what runs when tiles fail or turn out enlarged. */
  listen(events: TileEvents): void;
  /** Requests everything in view again. */
  reload(): void;
  /** Ends all requests: the server has another version of the pack. */
  stop(): void;
}

/** A base map that shows one of several, all of one job. */
export interface SwitchedBase extends BaseMap {
  use(next: BaseMap): void;
}

/** Shows the first of several base maps, until another is used. */
export function makeSwitchedBase(first: BaseMap): SwitchedBase {
  const used = new Set([first]);
  let now = first;
  let events: TileEvents | null = null;
  return {
    get layer() { return now.layer; },
    get extent() { return now.extent; },
    get finest() { return now.finest; },
    get coarsest() { return now.coarsest; },
    drawnAt: (resolution) => now.drawnAt(resolution),
    coarsestEnlarged: (view, resolution) => now.coarsestEnlarged(view, resolution),
    listen(to) {
      events = to;
      now.listen(to);
    },
    reload: () => now.reload(),
    stop: () => used.forEach((b) => b.stop()),
    use(next) {
      used.add(next);
      now = next;
      if (events) next.listen(events);
    },
  };
}

/** Called when a tile fails to load, or turns out to be enlarged. */
interface TileEvents {
  failed(): void;
  enlarged(): void;
}

function grid(t: TileJSON, size: number, ratio: number, extent: Extent): TileGrid {
  const resolutions: number[] = [];
  for (let z = 0; z <= (t.maxzoom ?? 30); z++) resolutions.push(((2 * halfWorld) / size / 2 ** z) * ratio);
  return new TileGrid({
    extent, origin: [-halfWorld, halfWorld], resolutions, tileSize: size / ratio, minZoom: t.shrunk_zoom ?? t.minzoom ?? 0,
  });
}

function pictureExtent(t: TileJSON): Extent {
  const world: Extent = [-halfWorld, -halfWorld, halfWorld, halfWorld];
  const b = t.bounds;
  if (b === undefined || b.length !== 4 || !b.every(Number.isFinite)) return world;
  const e = getIntersection(transformExtent(b, "EPSG:4326", "EPSG:3857"), world);
  if (isEmpty(e)) throw new UserError(say("load.no_bounds"));
  const inner = buffer(e, -boundsTolerance);
  return isEmpty(inner) ? e : inner;
}

/**
 * The base map. On a dense screen tiles are drawn at half size, which uses a deeper zoom where
 * the pack has one. Enlargement counts over `wanted` ground only: a pack has no tiles elsewhere.
 */
export function makeBaseMap(t: TileJSON, { tile_size: size, drawn }: Pick<About, "tile_size" | "drawn">, density: number, wanted: Geometry[]): BaseMap {
  const template = t.tiles[0];
  if (template === undefined) throw new UserError(say("load.no_tiles"));
  const ratio = density >= 1.5 ? 2 : 1;
  const extent = pictureExtent(t);
  const tileGrid = grid(t, size, ratio, extent);
  const enlarged = new Map<string, number>(); // tile → the zoom it is enlarged from
  let stopped = false;
  let events: TileEvents = { failed: () => undefined, enlarged: () => undefined };
  const source = new XYZ({
    tileGrid, tilePixelRatio: ratio, transition: 0, wrapX: false, attributionsCollapsible: false,
    tileUrlFunction: ([z, x, y]) =>
      ownPath(template.replace("{z}", String(z)).replace("{x}", String(x)).replace("{y}", String(y))),
    tileLoadFunction: (tile, path) => (stopped ? tile.setState(TileState.EMPTY) : void load(tile, path, enlarged, events)),
  });
  const coarsest = tileGrid.getResolution(tileGrid.getMinZoom()) / ratio;
  const farthest = coarsest * 2 ** (underzoom + 0.01);
  return {
    layer: new TileLayer({ className: drawn ? "picture drawn" : "picture", source, zIndex: 0, maxResolution: farthest }),
    extent,
    finest: tileGrid.getResolution(tileGrid.getMaxZoom()) / ratio,
    coarsest,
    drawnAt: (resolution) => resolution < farthest,
    coarsestEnlarged(view, resolution) {
      let coarsest = 0;
      if (resolution >= farthest) return coarsest;
      tileGrid.forEachTileCoord(view, tileGrid.getZForResolution(resolution), (c) => {
        const from = enlarged.get(c.join("/"));
        if (from !== undefined && overlaps(wanted, tileGrid.getTileCoordExtent(c))) coarsest = Math.max(coarsest, tileGrid.getResolution(from) / ratio);
      });
      return coarsest;
    },
    listen(to) {
      events = to;
    },
    reload: () => source.refresh(),
    stop: () => { stopped = true; },
  };
}

/** Whether a tile overlaps wanted ground by more than a pixel; without shapes all ground is wanted. */
function overlaps(wanted: Geometry[], tile: Extent): boolean {
  const inner = buffer(tile, -getWidth(tile) / 256);
  return wanted.length === 0 || wanted.some((g) => g.intersectsExtent(inner));
}

// With fetch, because an image element gives neither the status nor the header of an enlarged tile.
async function load(tile: Tile, path: string, enlarged: Map<string, number>, events: TileEvents): Promise<void> {
  try {
    const answer = await request(path);
    // 410: the server has another version of the pack, whose tiles must not mix with these.
    if (answer.status === 404 || answer.status === 204 || answer.status === 410) return tile.setState(TileState.EMPTY);
    if (!answer.ok) throw new Error(`tile: ${answer.status}`);
    const from = /^(\d+)\//.exec(answer.headers.get("Groundsheet-Enlarged-From") ?? "");
    const url = URL.createObjectURL(await answer.blob());
    const image = (tile as ImageTile).getImage() as HTMLImageElement;
    const done = () => URL.revokeObjectURL(url);
    image.addEventListener("load", done, { once: true });
    image.addEventListener("error", () => { done(); events.failed(); }, { once: true });
    image.src = url;
    if (from) {
      enlarged.set(tile.getTileCoord().join("/"), Number(from[1]));
      events.enlarged();
    }
  } catch {
    tile.setState(TileState.ERROR);
    events.failed();
  }
}
