// Tells in one notice all that is not drawn in a view: else a place would look as if it had none.
import type { ZoneCount } from "../derived/layers";
import { byId, setText } from "../lib/dom";
import { say } from "../lib/words";
import type { HiddenMarks } from "../records/markplaces";
import type { DrawnCount } from "../records/tiled";
import type { Notice, Notices } from "../shell/notice";
import type { MapView } from "./mapview";
import type { RecordSet } from "./recordset";

/** What of a view is not drawn: marks without room, zones too narrow, records that stand for others. */
interface Hidden extends HiddenMarks {
  zones: ZoneCount;
  records: Pick<DrawnCount, "drawn" | "recorded">;
}

/** That some of a view is not drawn; null where all is. At the deepest zoom a tap tells the rest. */
export function hiddenTexts({ depths, flags, crossings, zones, records }: Hidden, deepest: boolean): Texts | null {
  const n = (v: number) => v.toLocaleString("en");
  const left = records.recorded - records.drawn;
  const how = !deepest ? say("screen.zoom_in") : flags + crossings + zones.hidden > 0 ? say("screen.tap_lines") : say("screen.tap_dots");
  if (depths + flags + crossings + left === 0) {
    if (zones.hidden === 0) return null;
    if (zones.drawn === 0) return inOne(say("screen.no_zones", { how }));
    const short = say("screen.some_zones", { how });
    return zones.letters.length > 0 ? { text: say("screen.zones_of", { letters: zones.letters.join(", "), how }), shorter: [short], short } : inOne(short);
  }
  const parts = [
    left > 0 ? say("screen.hidden_records", { n: n(left), all: n(records.recorded) }) : "",
    depths > 0 ? say("screen.hidden_depths", { n: n(depths) }) : "",
    zones.hidden === 0 ? "" : zones.drawn === 0 ? say("screen.hidden_all_zones") : say("screen.hidden_zones", { n: n(zones.hidden) }),
    flags > 0 ? say("screen.hidden_flags", { n: n(flags) }) : "",
    crossings > 0 ? say("screen.hidden_crossings", { n: n(crossings) }) : "",
  ].filter((p) => p !== "");
  const hidden = (what: string) => say("screen.hidden", { what, how });
  const all = hidden(parts.join(", "));
  const marks = left + depths + zones.hidden + flags + crossings;
  if (parts.length === 1) return inOne(all);
  // In fewer words flags are still told of: they are of lines that enter the dig area.
  const more = flags > 0 && parts.length > 2 ? [hidden(say("screen.hidden_more", { flags: say("screen.hidden_flags", { n: n(flags) }), n: n(marks - flags) }))] : [];
  return { text: all, shorter: [...more, hidden(say("screen.hidden_marks", { n: n(marks) })), hidden(n(marks))], short: all };
}

/** What a notice says. */
type Texts = Required<Pick<Notice, "text" | "shorter" | "short">>;

/** The fewest words, for the readout, where the notice is not in sight; "" where all is drawn. */
export const fewestWords = (texts: Pick<Texts, "shorter" | "short"> | null): string => texts?.shorter[texts.shorter.length - 1] ?? texts?.short ?? "";

const inOne = (text: string): Texts => ({ text, shorter: [], short: text });

/** Keeps labels clear of all edges, and shows a notice while anything of the view is not drawn, or not yet. */
export function watchHidden({ map, view, zoomBy, clear }: MapView, records: RecordSet, notices: Notices): void {
  const keepClear = () => {
    const [seen, resolution] = [clear(), view.getResolution()];
    if (seen !== null && resolution !== undefined) records.places.keepClear(seen, resolution);
  };
  map.on("moveend", keepClear);
  map.on("rendercomplete", () => {
    const resolution = view.getResolution();
    if (resolution === undefined) return;
    keepClear();
    const extent = view.calculateExtent();
    const { waiting, ...drawn } = records.drawn(extent, resolution);
    notices.set("loading", waiting ? { text: say("screen.loading"), short: say("screen.loading") } : null);
    const deepest = resolution <= view.getMinResolution() * 1.01;
    const texts = hiddenTexts({
      ...records.places.hidden(extent, resolution), zones: records.zonesIn(extent, resolution), records: waiting ? { drawn: 0, recorded: 0 } : drawn,
    }, deepest);
    setText(byId("hidden-told"), fewestWords(texts));
    notices.set("hidden", texts && { ...texts, ...(deepest ? {} : { press: () => zoomBy(1) }) });
  });
}
