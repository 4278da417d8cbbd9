// All records of a pack on the map, and what is derived from them.
import type OLMap from "ol/Map";
import { type Derived, makeDerived } from "../derived/layers";
import { makeTiledDerived, type TiledDerived } from "../derived/tiled";
import type { About, Overlay } from "../lib/api";
import { say } from "../lib/words";
import { type DepthLabels, makeDepthLabels } from "../records/depthlabels";
import { isTiled, type RecordLayer } from "../records/layer";
import { loadRecord, makeRecordLayer } from "../records/load";
import { makeTiledRecords, type TiledRecords } from "../records/tiled";

export interface RecordSet {
  layers: RecordLayer[];
  derived: Derived;
  depths: DepthLabels;
  tiled: TiledRecords;
  /** zones and crossings as vector tiles where there are very many, else null */
  tiledDerived: TiledDerived | null;
  /** Loads what is not loaded yet. Resolves when all is there, and after a second at the latest: `tiled.drawn` tells what waits. */
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
  const depths = makeDepthLabels(about.units);
  const layers = overlays.map((o, i) => makeRecordLayer(o, depths, i));
  const derived = makeDerived(about.known_large?.entries ?? about.known ?? "", layers);
  depths.setSources(layers, derived.crossings);
  map.getLayers().extend([...layers.flatMap((l) => l.parts), ...derived.layers.map((l) => l.layer)]);
  const failed = (fault: string) => events.report(fault, retry);
  const tiled = makeTiledRecords(map, layers, depths.refresh, failed);
  const tiledDerived = about.known_large ? makeTiledDerived(map, about.known_large, derived, depths.refresh, failed) : null;
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
    depths.refresh();
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
    layers, derived, depths, tiledDerived, load,
    tiled: { ...tiled, drawn: (view) => ({ ...tiled.drawn(view), ...(loads > 0 ? { waiting: true } : {}) }) },
    incomplete: () => faulty().length > 0,
    stop() {
      stopped = true;
      tiled.stop();
      tiledDerived?.stop();
    },
  };
}
