// The details of a tapped feature. What is not stated is shown as not stated.
import type Feature from "ol/Feature";
import LineString from "ol/geom/LineString";
import type { Overlay } from "../lib/api";
import { dateText, isTimestamp } from "../lib/dates";
import { definitionList, make } from "../lib/dom";
import { depthText, frequencyText, lengthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { Hit } from "../records/layer";
import {
  asRecorded, boundedText, dateOf, featureKind, type FeatureKind, hasSignalStrength, isLengthKey, numberOf, ownerOf,
  qualityLevelOf, type Stated, withRecordWords,
} from "../records/record";
import { levelText, lineSwatch, pointSwatch, qualityLevels } from "../records/symbology";
import { testHoleKeys, testHoleRows, testHoleSwatch } from "../records/testhole";
import { topText } from "./pipetop";
import { flowText, stateText } from "./statetext";

const knownKeys = new Set([
  "geometry", "depth_of", "label", "size", "width_m", "material", "date", "recorded", "current_ma", "frequency_hz",
  "quality_level", "note", "owner", "status", "status_as_read", "kind_as_read", "flow", "record", "depth_as_written", "accuracy_as_written",
]);

/** Properties that the import of a table adds. */
const importKeys = new Map([["line_in_file", say("details.line_in_file")], ["decimals", say("details.decimals")]]);
/** The most features that a sheet shows. */
const maxHits = 12;

/** The body of the sheet about tapped features. */
export function recordDetails(hits: Hit[], units: Units): Node[] {
  const parts: Node[] = [];
  for (const h of hits.slice(0, maxHits)) parts.push(section(h, units));
  if (hits.length > maxHits) parts.push(make("p", "", say("details.zoom")));
  return parts;
}

function section({ feature: f, overlay }: Hit, units: Units): HTMLElement {
  const kind = featureKind(f.getGeometry()?.getType() ?? "", f);
  const exposed = kind === "test hole";
  const now = new Date();
  const [date, level, owner] = [dateOf(f, overlay), qualityLevelOf(f, overlay), ownerOf(f, overlay)];
  const rows: [string, string][] = [];
  const add = (name: string, value: string) => {
    if (value !== "") rows.push([name, value]);
  };
  add(say("details.state"), stateText(f));
  rows.push([exposed ? say("details.exposed_depth") : say("details.depth"), depthWords(f, kind, units)]);
  add(say("details.top"), topText(f, units));
  const shape = f.getGeometry();
  add(say("details.flow"), flowText(f, overlay.utility, shape instanceof LineString ? shape.getCoordinates() : null));
  add(say("details.label"), boundedText(f.get("label")));
  if (exposed) rows.push(...testHoleRows(f));
  rows.push([exposed ? say("details.when") : say("details.date"), attributed(date, dateText(date.value, now))]);
  if (boundedText(f.get("date")) !== "") add(say("details.recorded"), words(f.get("recorded"), now));
  rows.push([say("details.accuracy"), accuracyWords(f, overlay, units)]);
  rows.push([say("details.quality"), attributed(level, levelWords(level.value))]);
  add(say("details.size"), boundedText(f.get("size")));
  add(say("details.material"), boundedText(f.get("material")));
  rows.push([say("details.owner"), owner.value || say("details.not_stated")]);
  rows.push([say("details.record"), boundedText(f.get("record")) || overlay.record || say("details.not_stated")]);
  add(say("details.current"), amount(f.get("current_ma"), "mA"));
  add(say("details.frequency"), frequency(f.get("frequency_hz")));
  add(say("details.note"), boundedText(f.get("note")));
  add(say("details.record_note"), overlay.note);
  for (const [k, v] of Object.entries(f.getProperties())) {
    if (!knownKeys.has(k) && !isLengthKey(k) && !(exposed && testHoleKeys.has(k))) add(importKeys.get(k) ?? k, words(v, now));
  }
  const mark = exposed ? testHoleSwatch(overlay) : kind.endsWith("point") || kind === "reading" ? pointSwatch(overlay) : lineSwatch(overlay, level.value);
  const head = make("div", "head", mark,
    make("h3", "", say("details.head", { utility: overlay.utility_name || say("details.no_utility"), kind: kindWords(kind) }), make("small", "", overlay.title)));
  return make("section", "hit", head, definitionList(rows));
}

function kindWords(kind: FeatureKind): string {
  switch (kind) {
    case "reading": return say("details.reading");
    case "test hole": return say("details.test_hole");
    case "recorded point": return say("details.point");
    case "recorded line": return say("details.line");
    case "recorded outline": return say("details.outline");
  }
}

/** Says so when a value is stated for the whole record only. */
function attributed(v: Stated, words: string): string {
  return v.own || v.value === "" ? words : say("details.whole", { value: words });
}

/** Any value as text, a timestamp in local form. */
function words(v: unknown, now: Date): string {
  const s = boundedText(v);
  return isTimestamp(s) ? dateText(s, now) : s;
}

function depthWords(f: Feature, kind: FeatureKind, units: Units): string {
  const d = numberOf(f, "depth_m");
  const own = asRecorded(f.getProperties(), "depth");
  if (d === null) return own === "" ? say("details.not_stated") : say("details.in_words", { words: own });
  const to = boundedText(f.get("depth_of"));
  const point = kind === "reading" || kind === "recorded point";
  const depth = withRecordWords(depthText(d, units), own);
  if (to !== "") return say("details.to_part", { depth, part: to });
  return point && hasSignalStrength(f) ? say("details.to_signal", { depth }) : say("details.to_unknown", { depth });
}

function accuracyWords(f: Feature, o: Overlay, units: Units): string {
  const own = numberOf(f, "accuracy_m");
  const said = asRecorded(f.getProperties(), "accuracy");
  if (own !== null) return say("details.as_stated", { length: withRecordWords(lengthText(own, units), said) });
  if (said !== "") return say("details.in_words", { words: said });
  return o.accuracy_m === null ? say("details.not_stated") : say("details.as_whole", { length: lengthText(o.accuracy_m, units) });
}

function levelWords(level: string): string {
  const known = qualityLevels.find((l) => l.level === level && level !== "");
  return known ? say("details.level", { level, words: known.words }) : levelText(level);
}

function frequency(v: unknown): string {
  return typeof v === "number" && Number.isFinite(v) ? frequencyText(v) : boundedText(v);
}

function amount(v: unknown, unit: string): string {
  return typeof v === "number" && Number.isFinite(v) ? `${v.toLocaleString("en")} ${unit}` : boundedText(v);
}
