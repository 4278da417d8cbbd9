// Several pictures of one place: the base maps of one job, each in a pack of its own. Only the picture
// changes; lines, dig area and measurements stay those of the open pack.
import type OLMap from "ol/Map";
import type Geometry from "ol/geom/Geometry";
import type { About, PackEntry, TileJSON, Verdict } from "../../shared/lib/api";
import { make, makeInput } from "../../shared/lib/dom";
import { errorMessage, getJSON } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { type BaseMap, makeBaseMap, type SwitchedBase } from "../../shared/map/basemap";
import { showCredit } from "../../shared/map/readout";
import type { Verdicts } from "../job/verdict";

/** One of them, as it was loaded. */
interface Picture {
  entry: PackEntry;
  about: About;
  tilejson: TileJSON;
  base: BaseMap;
}

export interface Pictures {
  /** The picture that is shown: its pack's facts, and the verdict on it (null: it is the open pack's own). */
  about(): About;
  verdict(): Verdict | null;
  /** Its source and its date, in full. */
  credit(): string;
  /** The choice between them; nothing for a single one. */
  choice(): Node[];
  /** Takes a new list of packs: a picture of another version is not shown any longer. */
  listed(packs: PackEntry[]): void;
}

interface Shared {
  base: SwitchedBase;
  map: OLMap;
  wanted: Geometry[];
  verdicts: Verdicts;
  report(text: string, again: () => void): void;
  /** runs after another picture is shown */
  changed(): void;
}

/** Whether a pack is another picture of the same job: it has no records of its own. */
const isPictureOf = (entry: PackEntry, p: PackEntry): boolean =>
  p.id !== entry.id && entry.job !== undefined && p.job === entry.job && p.records === 0;

/** The pack to open without asking: the only one, or the only one with records where all are of one job. */
export function onlyJob(packs: PackEntry[]): PackEntry | undefined {
  if (packs.length < 2) return packs[0];
  const first = packs.find((p) => (p.records ?? 0) > 0);
  return first && packs.every((p) => p === first || isPictureOf(first, p)) ? first : undefined;
}

export function makePictures(own: Omit<Picture, "base"> & { first: BaseMap }, packs: PackEntry[], shared: Shared): Pictures {
  const { base, map, verdicts } = shared;
  const mine: Picture = { ...own, base: own.first };
  const loaded = new Map([[own.entry.id, mine]]);
  let others = packs.filter((p) => isPictureOf(own.entry, p));
  let shown = mine;
  let wanted = own.entry.id; // the latest choice: one that loads slowly must not come after it

  const show = (p: Picture): void => {
    map.removeLayer(base.layer);
    base.use(p.base);
    map.getLayers().insertAt(0, base.layer);
    shown = p;
    showCredit(p.about, p.tilejson);
    shared.changed();
  };
  const load = async (entry: PackEntry): Promise<Picture> => {
    const about = await getJSON<About>(entry.about, say("load.job"));
    const tilejson = await getJSON<TileJSON>(about.tilejson, say("load.picture"));
    return { entry, about, tilejson, base: makeBaseMap(tilejson, about, window.devicePixelRatio, shared.wanted) };
  };
  const choose = async (entry: PackEntry): Promise<void> => {
    wanted = entry.id;
    try {
      const p = loaded.get(entry.id) ?? await load(entry);
      loaded.set(entry.id, p);
      if (wanted === entry.id && shown !== p) show(p);
    } catch (e) {
      shared.report(errorMessage(e), () => void choose(entry));
      if (wanted === entry.id) wanted = shown.entry.id;
      shared.changed(); // the choice is again what is shown
    }
  };
  const option = (p: PackEntry): HTMLElement => {
    const input = Object.assign(makeInput("radio", wanted === p.id, () => void choose(p)), { name: "picture", value: p.id });
    const words = p.deepest_zoom === undefined ? [] : [make("span", "", say("job.deepest", { zoom: p.deepest_zoom }))];
    return make("label", "", input, make("span", "record", make("b", "", p.source || say("screen.no_source")), ...words));
  };
  return {
    about: () => shown.about,
    verdict: () => (shown === mine ? null : verdicts.of(shown.entry.id)),
    credit: () => showCredit(shown.about, shown.tilejson),
    choice: () => (others.length === 0 ? [] : [
      make("fieldset", "choices", make("legend", "", say("layers.pictures")), ...[own.entry, ...others].map(option)),
      make("p", "small", say("layers.pictures_words")),
    ]),
    listed(now) {
      others = now.filter((p) => isPictureOf(own.entry, p));
      for (const [id, p] of loaded) {
        if (p === mine || others.some((o) => o.id === id && o.version === p.entry.version)) continue;
        p.base.stop();
        loaded.delete(id);
        if (shown === p) {
          wanted = own.entry.id;
          show(mine);
        }
      }
    },
  };
}
