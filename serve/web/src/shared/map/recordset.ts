// All records of a pack on the map, and what is derived from them.
import type OLMap from "ol/Map";
import type { Extent } from "ol/extent";
import { getPointResolution } from "ol/proj";
import { type Derived, makeDerived, type ZoneCount } from "../derived/layers";
import { makeTiledDerived, type TiledDerived } from "../derived/tiled";
import type { About, Overlay } from "../lib/api";
import { say } from "../lib/words";
import { isTiled, type RecordLayer } from "../records/layer";
import { loadRecord, makeRecordLayer } from "../records/load";
import { makeMarkPlaces, type MarkPlaces } from "../records/markplaces";
import { followFrames } from "../records/stage";
import { type DrawnCount, makeTiledRecords, type TiledRecords } from "../records/tiled";

export interface RecordSet {
  layers: RecordLayer[];
  derived: Derived;
  places: MarkPlaces;
  tiled: TiledRecords;
  /** zones and crossings as vector tiles where there are very many, else null */
  tiledDerived: TiledDerived | null;
  /** How many of the marks in view are drawn. */
  drawn(view: Extent, resolution: number): DrawnCount;
  /** The zones of a view that are on. */
  zonesIn(view: Extent, resolution: number): ZoneCount;
  /** Places and draws all again: after records were switched on or off. */
  redraw(): void;
  /** Loads what is not loaded yet. Resolves when all is there, and after a second at the latest: `drawn` tells what waits. */
  load(): Promise<void>;
  /** Whether something failed to load. */
  incomplete(): boolean;
  /** Ends all loading: the server has another version of the pack. */
  stop(): void;
}

interface RecordSetEvents {
  /** Shows an error, with a way to try again. */
  report(message: string, retry: () => void): void;
  /** Runs after loading. */
  loaded(): void;
}

/** How long a page waits for its records before it can be used, in milliseconds: the laptop may have to prepare a very large one. */
const longestWaitMs = 1_000;

/** Adds the records of a pack to a map, over its dig area; `load` loads them. */
export function makeRecordSet(map: OLMap, about: About, overlays: Overlay[], events: RecordSetEvents): RecordSet {
  followFrames(map);
  const ground = () => getPointResolution("EPSG:3857", 1, map.getView().getCenter() ?? [0, 0], "m");
  const places = makeMarkPlaces(about.units);
  const layers = overlays.map((o, i) => makeRecordLayer(o, places, i));
  const derived = makeDerived(about.known_large?.entries ?? about.known ?? "", layers, places, ground);
  places.setSources(layers, derived.places, derived.redraw);
  const redraw = () => {
    places.refresh();
    derived.redraw();
  };
  map.getLayers().extend([...layers.flatMap((l) => l.parts), ...derived.layers.map((l) => l.layer), derived.drawnLines]);
  const failed = (fault: string) => events.report(fault, retry);
  const tiled = makeTiledRecords(map, layers, redraw, failed);
  const tiledDerived = about.known_large ? makeTiledDerived(map, about.known_large, derived, redraw, failed) : null;
  const faulty = () => [...layers, derived].filter((l) => l.fault !== "");
  let stopped = false;

  let loads = 0;
  const late = () => new Promise<void>((done) => setTimeout(done, longestWaitMs));
  function load(): Promise<void> {
    if (stopped) return Promise.resolve();
    return Promise.race([loadAll(), late()]);
  }
  async function loadAll(): Promise<void> {
    loads++;
    await Promise.all([
      derived.load().then(() => (derived.fault === "" ? tiledDerived?.load() : undefined)),
      ...layers.filter((l) => l.fault !== "").map((l) => (isTiled(l) ? tiled.load(l) : loadRecord(l))),
    ]);
    loads--;
    redraw();
    events.loaded();
    const [first, ...more] = faulty();
    if (first !== undefined) {
      return events.report(more.length > 0 ? say("load.more", { fault: first.fault, n: more.length }) : first.fault, retry);
    }
    const notDrawn = layers.filter((l) => l.notDrawn > 0).map((l) => say("layers.not_drawn_of", { record: l.overlay.title, n: l.notDrawn }));
    if (notDrawn.length > 0) events.report(notDrawn.join(" "), () => undefined);
  }
  function retry(): void {
    void load();
  }
  return {
    layers, derived, places, tiled, tiledDerived, redraw, load,
    drawn(view, resolution) {
      const [inTiles, whole] = [tiled.drawn(view), places.dotsIn(view, resolution)];
      return { drawn: inTiles.drawn + whole.drawn, recorded: inTiles.recorded + whole.recorded, waiting: inTiles.waiting || loads > 0 };
    },
    // Zones that are not loaded so far out are not drawn, whatever their number.
    zonesIn: (view, resolution) => (tiledDerived?.tooFar(resolution) === true ? { drawn: 0, hidden: 1, letters: [] } : derived.zonesIn(view, resolution)),
    incomplete: () => faulty().length > 0,
    stop() {
      stopped = true;
      tiled.stop();
      tiledDerived?.stop();
    },
  };
}
