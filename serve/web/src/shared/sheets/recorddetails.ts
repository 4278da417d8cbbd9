// The details of a recorded feature. What is not stated is shown as not stated.
import type Feature from "ol/Feature";
import LineString from "ol/geom/LineString";
import { dateText, isTimestamp } from "../lib/dates";
import { depthText, frequencyText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { Hit } from "../records/layer";
import { asRecorded, boundedText, dateOf, featureKind, type FeatureKind, isLengthKey, numberOf, ownerOf } from "../records/record";
import { testHoleKeys, testHoleRows } from "../records/testhole";
import { agedText, depthInLine, recordLead } from "./lead";
import { topText } from "./pipetop";
import { detailsSection, utilityTag } from "./section";
import { flowText, stateInLine, stateText } from "./statetext";

const knownKeys = new Set([
  "geometry", "depth_of", "label", "size", "width_m", "material", "date", "recorded", "current_ma", "frequency_hz",
  "quality_level", "note", "owner", "status", "status_as_read", "kind_as_read", "flow", "record", "depth_as_written", "accuracy_as_written",
  "line", "address", "depth_accuracy", "depth_accuracy_m", "depth_accuracy_as_written",
]);

/** Properties that the import of a table adds. */
const importKeys = new Map([["line_in_file", say("details.line_in_file")], ["decimals", say("details.decimals")]]);

/** What a feature is and how it is called: "reading S4, line W1". */
export function titleOf({ feature: f }: Hit): string {
  const kind = kindWords(kindOf(f));
  const [label, line] = [boundedText(f.get("label")), boundedText(f.get("line"))];
  const named = label === "" ? kind : say("found.named", { kind, label });
  return line === "" ? named : say("found.of_line", { named, line });
}

/** A feature in one line for lists: its depth with what it was measured to, its state, and its age. */
export function lineOf({ feature: f, overlay }: Hit, units: Units, now: Date): string[] {
  return [depthInLine(f, kindOf(f), units), stateInLine(f), agedText(dateOf(f, overlay).value, now)].filter((w) => w !== "");
}

const kindOf = (f: Feature): FeatureKind => featureKind(f.getGeometry()?.getType() ?? "", f);

/** The section about one feature. */
export function recordDetails(hit: Hit, units: Units): HTMLElement {
  const { feature: f, overlay } = hit;
  const kind = kindOf(f);
  const exposed = kind === "test hole";
  const now = new Date();
  const [date, owner] = [dateOf(f, overlay), ownerOf(f, overlay)];
  const rows: [string, string][] = [];
  const add = (name: string, value: string) => {
    if (value !== "") rows.push([name, value]);
  };
  add(say("details.state"), stateText(f));
  add(say("details.top"), topText(f, units));
  const shape = f.getGeometry();
  add(say("details.flow"), flowText(f, overlay.utility, shape instanceof LineString ? shape.getCoordinates() : null));
  if (exposed) rows.push(...testHoleRows(f));
  rows.push([exposed ? say("details.when") : say("details.date"), date.own || date.value === "" ? dateText(date.value, now) : say("details.whole", { value: dateText(date.value, now) })]);
  if (boundedText(f.get("date")) !== "") add(say("details.recorded"), words(f.get("recorded"), now));
  add(say("details.as_written"), asWritten(f, units));
  add(say("details.size"), boundedText(f.get("size")));
  add(say("details.material"), boundedText(f.get("material")));
  add(say("details.address"), boundedText(f.get("address")));
  rows.push([say("details.owner"), owner.value || say("details.not_stated")]);
  rows.push([say("details.record"), boundedText(f.get("record")) || overlay.record || say("details.not_stated")]);
  add(say("details.current"), amount(f.get("current_ma"), "mA"));
  add(say("details.frequency"), frequency(f.get("frequency_hz")));
  add(say("details.note"), boundedText(f.get("note")));
  add(say("details.record_note"), overlay.note);
  for (const [k, v] of Object.entries(f.getProperties())) {
    if (!knownKeys.has(k) && !isLengthKey(k) && !(exposed && testHoleKeys.has(k))) add(importKeys.get(k) ?? k, words(v, now));
  }
  const title = say("details.head", { utility: overlay.utility_name || say("details.no_utility"), kind: titleOf(hit) });
  return detailsSection({ tag: utilityTag(overlay), title, small: overlay.title }, recordLead(f, overlay, kind, units, now), rows);
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

/** Any value as text, a timestamp in local form. */
function words(v: unknown, now: Date): string {
  const s = boundedText(v);
  return isTimestamp(s) ? dateText(s, now) : s;
}

/** A depth as its record writes it, where that differs from how it is told. */
function asWritten(f: Feature, units: Units): string {
  const [depth, own] = [numberOf(f, "depth_m"), asRecorded(f.getProperties(), "depth")];
  if (depth === null || own === "") return "";
  const bare = (s: string) => s.replace(/\s/g, "");
  return bare(own) === bare(depthText(depth, units)) ? "" : own;
}

function frequency(v: unknown): string {
  return typeof v === "number" && Number.isFinite(v) ? frequencyText(v) : boundedText(v);
}

function amount(v: unknown, unit: string): string {
  return typeof v === "number" && Number.isFinite(v) ? `${v.toLocaleString("en")} ${unit}` : boundedText(v);
}
