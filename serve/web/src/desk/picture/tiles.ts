// Tiles of a source for maps: asked for with the secret, shown as blobs that are let go again.
import type ImageTile from "ol/ImageTile";
import type OLMap from "ol/Map";
import type Tile from "ol/Tile";
import TileState from "ol/TileState";
import { intersects } from "ol/extent";
import TileLayer from "ol/layer/Tile";
import XYZ from "ol/source/XYZ";
import TileGrid from "ol/tilegrid/TileGrid";
import { errorMessage } from "../../shared/lib/http";
import { halfWorld } from "../../shared/lib/mercator";
import type { Api } from "../app/api";
import type { SourceRow } from "./sources";

/** What was said of the tiles that came. */
interface Said {
  /** why tiles cannot be had; "" = they can */
  why: string;
  /** tiles shown as they are held, and due to be confirmed */
  stale: number;
  /** why tiles are most likely no picture of their ground */
  odd: string[];
  /** when the newest was fetched or confirmed; "" = none has come */
  fetched: string;
}

export interface Picture {
  layer: TileLayer;
  said(): Said;
  /** Ends all requests and lets the tiles go. */
  stop(): void;
}

/** How long after a failure the tiles in view are asked for again, in milliseconds. */
const again = 20_000;

/**
 * A layer of a source. `ratio` is the number of pixels of the screen to one of the page: a pixel
 * of a tile fills one of the screen. Tiles that leave the view are not asked for any more.
 */
export function makePicture(map: OLMap, api: Api, row: SourceRow, jobID: string, ratio: number, zooms: [number, number], changed: () => void): Picture {
  const waiting = new Map<ImageTile, AbortController>();
  const left = new Set<ImageTile>();
  const said: Said = { why: "", stale: 0, odd: [], fetched: "" };
  let timer: ReturnType<typeof setTimeout> | undefined;
  const grid = gridOf(row.tile_size, ratio, zooms);
  const job = jobID === "" ? "" : `?job=${jobID}`;

  async function load(tile: ImageTile): Promise<void> {
    const [z = 0, x = 0, y = 0] = tile.getTileCoord();
    const stop = new AbortController();
    waiting.set(tile, stop);
    const image = tile.getImage() as HTMLImageElement;
    try {
      const answer = await api.raw(`/api/picture/${encodeURIComponent(row.name)}/${z}/${x}/${y}${job}`, stop.signal);
      note(answer);
      if (answer.status === 204) return tile.setState(TileState.EMPTY);
      const url = URL.createObjectURL(await answer.blob());
      const free = () => URL.revokeObjectURL(url);
      image.addEventListener("load", free, { once: true });
      image.addEventListener("error", free, { once: true });
      image.src = url;
    } catch (e) {
      left.add(tile);
      tile.setState(TileState.ERROR);
      if (stop.signal.aborted) return;
      said.why = errorMessage(e);
      changed();
      clearTimeout(timer);
      timer = setTimeout(() => inView(), again);
    } finally {
      waiting.delete(tile);
    }
  }

  function note(answer: Response): void {
    const odd = answer.headers.get("Groundsheet-Odd");
    if (odd !== null && !said.odd.includes(decodeURIComponent(odd))) said.odd.push(decodeURIComponent(odd));
    if (answer.headers.get("Groundsheet-Tile") === "stale") said.stale++;
    const fetched = answer.headers.get("Groundsheet-Fetched") ?? "";
    if (fetched > said.fetched) said.fetched = fetched;
    said.why = "";
    changed();
  }

  /** Ends what has left the view, and asks again for what is in it and did not come. */
  function inView(): void {
    const [size, view] = [map.getSize(), map.getView()];
    if (size === undefined) return;
    const extent = view.calculateExtent(size);
    const z = grid.getZForResolution(view.getResolution() ?? 1);
    const seen = (t: ImageTile) => t.getTileCoord()[0] === z && intersects(extent, grid.getTileCoordExtent(t.getTileCoord()));
    for (const [tile, stop] of waiting) if (!seen(tile)) stop.abort();
    for (const tile of left) {
      if (tile.getState() !== TileState.ERROR) left.delete(tile);
      else if (seen(tile)) {
        left.delete(tile);
        tile.load();
      }
    }
  }
  map.on("moveend", inView);

  const source = new XYZ({
    tileGrid: grid, transition: 0, wrapX: true, url: "picture:{z}/{x}/{y}", tilePixelRatio: ratio, cacheSize: 600,
    tileLoadFunction: (tile: Tile) => void load(tile as ImageTile),
  });
  return {
    layer: new TileLayer({ source, zIndex: -5 }),
    said: () => said,
    stop() {
      map.un("moveend", inView);
      clearTimeout(timer);
      for (const stop of waiting.values()) stop.abort();
      source.clear();
    },
  };
}

function gridOf(size: number, ratio: number, [min, max]: [number, number]): TileGrid {
  const resolutions: number[] = [];
  for (let z = 0; z <= max; z++) resolutions.push(((2 * halfWorld) / size / 2 ** z) * ratio);
  return new TileGrid({ origin: [-halfWorld, halfWorld], resolutions, tileSize: size / ratio, minZoom: min });
}
