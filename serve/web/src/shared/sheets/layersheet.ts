// The sheet of layers: the records and their quality, a legend, and facts about the picture.
import type { Derived, DerivedLayer } from "../derived/layers";
import type { About, Verdict } from "../lib/api";
import { dateText, dayRangeText, localDayOf, statedTime } from "../lib/dates";
import { definitionList, make, makeInput } from "../lib/dom";
import { lengthText, pixelText } from "../lib/units";
import { say } from "../lib/words";
import { notRecorded } from "../records/coverage";
import { contentOf, isOn, type RecordContent, type RecordLayer, setOn } from "../records/layer";
import { lineSwatch, pointSwatch, sample } from "../records/swatches";
import { levelText } from "../records/symbology";
import { datumText, leftOutText } from "./importnotes";
import { legend, type LegendRow } from "./legend";
import { verdictText } from "./verdicttext";

/** The caution that every map of records must show. */
export const recordsCaution = say("layers.fixed");

/** The body of the sheet. `picture` is the one that is shown, and the choice between several. `changed` runs after a layer was switched on or off; `positionRows` explain the position mark. */
export function layersBody(
  about: About, layers: RecordLayer[], known: Derived, picture: { about: About; verdict: Verdict; choice: Node[] }, positionRows: LegendRow[], changed: () => void,
): Node[] {
  const parts: Node[] = [recordsCaution, ...notRecorded(about, true)].map((words) => make("p", "fixed small", words));
  parts.push(...picture.choice);
  const list = make("ul", "records", ...layers.map((l) => row(l, changed)));
  parts.push(layers.length > 0 ? list : make("p", "", say("layers.none")));
  if (about.known) parts.push(heading(say("layers.worked_out")), make("ul", "records", ...known.layers.map((l) => knownRow(l, known, changed))));
  parts.push(heading(say("legend.head")), legend(layers.map((l) => l.overlay), positionRows), ...drawnLegend(picture.about), heading(say("layers.job")), facts(picture.about, picture.verdict));
  return parts;
}

/** The ground of a drawn base map. */
const drawnPaper = "#f5f4f0";

const heading = (text: string): HTMLElement => make("h3", "", text);

function row(l: RecordLayer, changed: () => void): HTMLElement {
  const o = l.overlay;
  const content = contentOf(l);
  const box = makeInput("checkbox", isOn(l), (on) => {
    setOn(l, on);
    changed();
  });
  box.dataset.overlay = o.id;
  const text = make("span", "record",
    make("b", "", o.title),
    make("span", "", `${o.utility_name} · ${levelsText(content, o.quality_level)}`),
    make("span", "", o.recorded === "" ? say("layers.not_recorded") : say("layers.recorded", { when: dateText(o.recorded, new Date()) })));
  if (content?.features === 0) text.append(make("strong", "", say("layers.empty")));
  if (l.notDrawn > 0) text.append(make("strong", "fault", say("layers.not_drawn", { n: l.notDrawn })));
  for (const said of [o.note, datumText(o)]) if (said !== "") text.append(make("span", "", said));
  const leftOut = leftOutText(o);
  if (leftOut !== "") text.append(make("strong", "", leftOut));
  if (l.fault !== "") text.append(make("strong", "fault", say("layers.fault", { fault: l.fault })));
  return make("li", "", make("label", "", box, recordSample(l, content), text));
}

// An earlier pack has no lines beside each other.
const noneOf: Partial<Record<DerivedLayer["id"], string>> = {
  zones: say("worked.no_zones"),
  beside: say("worked.no_beside"),
};

function knownRow(l: DerivedLayer, known: Derived, changed: () => void): HTMLElement {
  const box = makeInput("checkbox", l.layer.getVisible(), (on) => {
    l.layer.setVisible(on);
    changed();
  });
  box.dataset.derived = l.id;
  const text = make("span", "record", make("b", "", l.title), make("span", "", l.summary));
  const count = l.content?.features ?? l.layer.getSource()?.getFeatures().length ?? 0;
  if (known.fault !== "") text.append(make("strong", "fault", say("layers.fault", { fault: known.fault })));
  else if (count === 0) text.append(make("span", "", noneOf[l.id] ?? say("worked.none")));
  return make("li", "", make("label", "", box, text));
}

function recordSample(l: RecordLayer, content: RecordContent | null): HTMLElement {
  if (content?.points) return pointSwatch(l.overlay);
  return lineSwatch(l.overlay, content?.levels.length === 1 ? content.levels[0] ?? "" : l.overlay.quality_level);
}

/** "level D", or where features differ "levels A, D, not stated, by part". */
function levelsText(content: RecordContent | null, whole: string): string {
  const found = content?.levels ?? [];
  if (found.length < 2) return levelText(found[0] ?? whole);
  const stated = found.filter((v) => v !== "");
  const all = [...stated, ...(stated.length < found.length ? [say("details.not_stated")] : [])];
  return say("layers.levels", { levels: all.join(", ") });
}

/** What a drawn base map shows, and what it does not. */
function drawnLegend({ drawn, source }: About): Node[] {
  if (!drawn) return [];
  const rows = drawn.map(({ look, shape, words }) => make("li", "", sample((c) => {
    const ink = look.edge ?? look.fill ?? look.ink;
    const bar = (color: string, high: number, wide = 68) => {
      c.fillStyle = color;
      c.fillRect(-wide / 2, -high / 2, wide, high);
    };
    bar(drawnPaper, 28);
    if (shape === "area") bar(ink, 18, 50);
    if (shape === "area") bar(look.fill ?? drawnPaper, 16, 48);
    if (shape === "line") bar(ink, 9);
    if (shape === "line") bar(look.fill ?? ink, 6);
    c.fillStyle = look.ink;
    c.scale(1.4, 1.4);
    if (shape === "point") c.fillText("12", -5.5, 3.5);
  }), make("span", "", words)));
  const files = source.captured === "" ? say("drawn.files_undated") : say("drawn.files", { when: source.captured });
  return [heading(say("drawn.head")), make("p", "small", say("drawn.caution", { files })), make("ul", "legend", ...rows)];
}

const finestText = (about: About): string =>
  about.ground_resolution_m > 0 ? say("layers.finest_pixel", { length: pixelText(about.ground_resolution_m, about.units) }) : say("layers.finest_unknown");

function facts(about: About, verdict: Verdict): HTMLElement {
  const now = new Date();
  const rows: [string, string][] = [
    [say("layers.check"), verdictText(verdict)],
    [about.drawn ? say("drawn.map") : say("layers.picture"), about.source.name || say("layers.no_source")],
    [about.drawn ? say("drawn.of") : say("layers.picture_date"), about.source.captured === "" ? say("layers.unknown") : dateText(about.source.captured, now)],
    about.drawn ? [say("drawn.off"), say("drawn.off_words")] : [say("layers.finest"), finestText(about)],
    [say("layers.fetched"), about.fetched ? dayRangeText(about.fetched.oldest, about.fetched.newest) : say("date.not_stated")],
    [say("layers.packed"), statedTime(about.packed) === "" ? say("date.not_stated") : dateText(localDayOf(about.packed), now)],
    [say("layers.seal"), about.seal || say("layers.no_seal")],
  ];
  if (about.holes > 0) rows.push([say("layers.missing"), say("layers.missing_tiles", { n: about.holes })]);
  if (about.tolerance) {
    const rule = about.tolerance.rule || say("layers.no_rule");
    const width = about.tolerance.stated || lengthText(about.tolerance.each_side_m, about.units);
    rows.push([say("layers.tolerance"), say("layers.tolerance_zone", { width, rule })]);
  }
  const list = definitionList(rows);
  list.querySelector("dd")?.classList.toggle("fault", verdict.state === "not fit");
  return list;
}
