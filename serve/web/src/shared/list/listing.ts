// The loaded records of a pack by utility, those in the dig area apart from those around it.
import type { Geometry } from "ol/geom";
import type { Overlay } from "../lib/api";
import { say } from "../lib/words";
import { type Hit, isTiled, type RecordLayer } from "../records/layer";
import { makeInArea } from "./inarea";
import { folded, searchedText } from "./textmatch";

/** One recorded feature. */
interface Entry {
  hit: Hit;
  /** what can be found of it */
  text(): string;
}

export interface Group {
  utility: string;
  entries: Entry[];
}

export interface Listing {
  /** in the dig area, as drawn; null where the pack tells of no dig area */
  inside: Group[] | null;
  around: Group[];
  /** records of too many features to be loaded; the laptop has their words */
  tiled: RecordLayer[];
  /** records that could not be loaded */
  missing: RecordLayer[];
}

/** What can be found of a whole record. */
const overlayText = (o: Overlay): string => [o.title, o.utility_name, o.owner, o.record, o.note].map(folded).join("\n");

export function makeListing(layers: RecordLayer[], area: Geometry[]): Listing {
  const isInside = makeInArea(area);
  const [inside, around] = [new Map<string, Group>(), new Map<string, Group>()];
  const loaded = layers.filter((l) => !isTiled(l) && l.fault === "");
  for (const { overlay, parts } of loaded) {
    const whole = overlayText(overlay);
    for (const feature of parts[0].getSource()?.getFeatures() ?? []) {
      const g = feature.getGeometry();
      const groups = area.length > 0 && g && isInside(g) ? inside : around;
      const utility = overlay.utility_name || say("details.no_utility");
      const group = groups.get(utility) ?? { utility, entries: [] };
      groups.set(utility, group);
      let text: string | undefined;
      group.entries.push({ hit: { feature, overlay }, text: () => (text ??= `${searchedText(feature.getProperties())}\n${whole}`) });
    }
  }
  return {
    inside: area.length > 0 ? [...inside.values()] : null, around: [...around.values()],
    tiled: layers.filter((l) => isTiled(l) && (l.content?.features ?? 1) > 0),
    missing: layers.filter((l) => !isTiled(l) && l.fault !== ""),
  };
}

/** How many entries some groups hold. */
export const countOf = (groups: Group[]): number => groups.reduce((n, g) => n + g.entries.length, 0);
