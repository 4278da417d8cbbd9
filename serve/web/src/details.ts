// What is known of a tapped feature, in plain words. What is not stated is said so.
import type Feature from "ol/Feature";
import LineString from "ol/geom/LineString";
import { dateText, isTime } from "./dates";
import { make } from "./dom";
import { terms } from "./layers";
import { levelText, levels, pointSwatch, swatch } from "./look";
import {
  beside, dateOf, hasSignal, isLength, kindOf, levelOf, metresOf, ownWords, ownerOf, text, type Kind, type Stated,
} from "./record";
import { flowText, stateText } from "./state";
import { holeRows, holeSwatch, holeTold } from "./testhole";
import { topText } from "./top";
import type { Overlay } from "./types";
import { depthText, frequencyText, lengthText, type Units } from "./units";
import { say } from "./words";

/** A feature under a tap, with the record it belongs to. */
export interface Hit {
  feature: Feature;
  overlay: Overlay;
}

const told = new Set([
  "geometry", "depth_of", "label", "size", "width_m", "material", "date", "recorded", "current_ma", "frequency_hz",
  "quality_level", "note", "owner", "status", "status_as_read", "kind_as_read", "flow", "record", "depth_as_written", "accuracy_as_written",
]);

/** What the reading of a table adds to a record, in plain words. */
const added = new Map([["line_in_file", say("details.line_in_file")], ["decimals", say("details.decimals")]]);

/** How many features a sheet tells of. */
const mostHits = 12;

/** The body of the details sheet. */
export function detailsBody(hits: Hit[], units: Units): Node[] {
  const parts: Node[] = [];
  for (const h of hits.slice(0, mostHits)) parts.push(section(h, units));
  if (hits.length > mostHits) parts.push(make("p", "", say("details.zoom")));
  return parts;
}

function section({ feature: f, overlay }: Hit, units: Units): HTMLElement {
  const kind = kindOf(f.getGeometry()?.getType() ?? "", f);
  const exposed = kind === "test hole";
  const now = new Date();
  const [date, level, owner] = [dateOf(f, overlay), levelOf(f, overlay), ownerOf(f, overlay)];
  const rows: [string, string][] = [];
  const add = (name: string, value: string) => {
    if (value !== "") rows.push([name, value]);
  };
  add(say("details.state"), stateText(f));
  rows.push([exposed ? say("details.exposed_depth") : say("details.depth"), depthWords(f, kind, units)]);
  add(say("details.top"), topText(f, units));
  const shape = f.getGeometry();
  add(say("details.flow"), flowText(f, overlay.utility, shape instanceof LineString ? shape.getCoordinates() : null));
  add(say("details.label"), text(f.get("label")));
  if (exposed) rows.push(...holeRows(f));
  rows.push([exposed ? say("details.when") : say("details.date"), whose(date, dateText(date.value, now))]);
  if (text(f.get("date")) !== "") add(say("details.recorded"), words(f.get("recorded"), now));
  rows.push([say("details.accuracy"), accuracyWords(f, overlay, units)]);
  rows.push([say("details.quality"), whose(level, levelWords(level.value))]);
  add(say("details.size"), text(f.get("size")));
  add(say("details.material"), text(f.get("material")));
  rows.push([say("details.owner"), owner.value || say("details.not_stated")]);
  rows.push([say("details.record"), text(f.get("record")) || overlay.record || say("details.not_stated")]);
  add(say("details.current"), amount(f.get("current_ma"), "mA"));
  add(say("details.frequency"), frequency(f.get("frequency_hz")));
  add(say("details.note"), text(f.get("note")));
  add(say("details.record_note"), overlay.note);
  for (const [k, v] of Object.entries(f.getProperties())) {
    if (!told.has(k) && !isLength(k) && !(exposed && holeTold.has(k))) add(added.get(k) ?? k, words(v, now));
  }
  const mark = exposed ? holeSwatch(overlay) : kind.endsWith("point") || kind === "reading" ? pointSwatch(overlay) : swatch(overlay, level.value);
  const head = make("div", "head", mark,
    make("h3", "", say("details.head", { utility: overlay.utility_name || say("details.no_utility"), kind: kindWords(kind) }), make("small", "", overlay.title)));
  return make("section", "hit", head, terms(rows));
}

function kindWords(kind: Kind): string {
  switch (kind) {
    case "reading": return say("details.reading");
    case "test hole": return say("details.test_hole");
    case "recorded point": return say("details.point");
    case "recorded line": return say("details.line");
    case "recorded outline": return say("details.outline");
  }
}

/** Tells when a value stands for the whole record, and not for this part of it. */
function whose(v: Stated, words: string): string {
  return v.own || v.value === "" ? words : say("details.whole", { value: words });
}

/** A stranger's value as text, a time in it as one for people. */
function words(v: unknown, now: Date): string {
  const s = text(v);
  return isTime(s) ? dateText(s, now) : s;
}

function depthWords(f: Feature, kind: Kind, units: Units): string {
  const d = metresOf(f, "depth_m");
  const own = ownWords(f.getProperties(), "depth");
  if (d === null) return own === "" ? say("details.not_stated") : say("details.in_words", { words: own });
  const to = text(f.get("depth_of"));
  const point = kind === "reading" || kind === "recorded point";
  const depth = beside(depthText(d, units), own);
  if (to !== "") return say("details.to_part", { depth, part: to });
  return point && hasSignal(f) ? say("details.to_signal", { depth }) : say("details.to_unknown", { depth });
}

function accuracyWords(f: Feature, o: Overlay, units: Units): string {
  const own = metresOf(f, "accuracy_m");
  const said = ownWords(f.getProperties(), "accuracy");
  if (own !== null) return say("details.as_stated", { length: beside(lengthText(own, units), said) });
  if (said !== "") return say("details.in_words", { words: said });
  return o.accuracy_m === null ? say("details.not_stated") : say("details.as_whole", { length: lengthText(o.accuracy_m, units) });
}

function levelWords(level: string): string {
  const known = levels.find((l) => l.level === level && level !== "");
  return known ? say("details.level", { level, words: known.words }) : levelText(level);
}

function frequency(v: unknown): string {
  return typeof v === "number" && Number.isFinite(v) ? frequencyText(v) : text(v);
}

function amount(v: unknown, unit: string): string {
  return typeof v === "number" && Number.isFinite(v) ? `${v.toLocaleString("en")} ${unit}` : text(v);
}
