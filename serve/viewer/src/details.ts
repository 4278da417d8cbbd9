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
const added = new Map([["line_in_file", "Line in the file"], ["decimals", "Decimals of its place"]]);

/** How many features a sheet tells of. */
const mostHits = 12;

/** The body of the details sheet. */
export function detailsBody(hits: Hit[], units: Units): Node[] {
  const parts: Node[] = [];
  for (const h of hits.slice(0, mostHits)) parts.push(section(h, units));
  if (hits.length > mostHits) parts.push(make("p", "", "Zoom in to see the others."));
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
  add("State", stateText(f));
  rows.push([exposed ? "Exposed depth" : "Depth", depthWords(f, kind, units)]);
  add("Top of the pipe", topText(f, units));
  const shape = f.getGeometry();
  add("Flow", flowText(f, overlay.utility, shape instanceof LineString ? shape.getCoordinates() : null));
  add("Label", text(f.get("label")));
  if (exposed) rows.push(...holeRows(f));
  rows.push([exposed ? "When" : "Date", whose(date, dateText(date.value, now))]);
  if (text(f.get("date")) !== "") add("Recorded", words(f.get("recorded"), now));
  rows.push(["Accuracy", accuracyWords(f, overlay, units)]);
  rows.push(["Quality level", whose(level, levelWords(level.value))]);
  add("Size", text(f.get("size")));
  add("Material", text(f.get("material")));
  rows.push(["Owner", owner.value || "not stated"]);
  rows.push(["Record", text(f.get("record")) || overlay.record || "not stated"]);
  add("Current", amount(f.get("current_ma"), "mA"));
  add("Frequency", frequency(f.get("frequency_hz")));
  add("Note", text(f.get("note")));
  add("Note on the record", overlay.note);
  for (const [k, v] of Object.entries(f.getProperties())) {
    if (!told.has(k) && !isLength(k) && !(exposed && holeTold.has(k))) add(added.get(k) ?? k, words(v, now));
  }
  const mark = exposed ? holeSwatch(overlay) : kind.endsWith("point") || kind === "reading" ? pointSwatch(overlay) : swatch(overlay, level.value);
  const head = make("div", "head", mark,
    make("h3", "", `${overlay.utility_name || "utility not stated"}, ${kind}`, make("small", "", overlay.title)));
  return make("section", "hit", head, terms(rows));
}

/** Tells when a value stands for the whole record, and not for this part of it. */
function whose(v: Stated, words: string): string {
  return v.own || v.value === "" ? words : `${words}; as stated for the whole record`;
}

/** A stranger's value as text, a time in it as one for people. */
function words(v: unknown, now: Date): string {
  const s = text(v);
  return isTime(s) ? dateText(s, now) : s;
}

function depthWords(f: Feature, kind: Kind, units: Units): string {
  const d = metresOf(f, "depth_m");
  const own = ownWords(f.getProperties(), "depth");
  if (d === null) return own === "" ? "not stated" : `as the record words it: ${own}`;
  const to = text(f.get("depth_of"));
  const point = kind === "reading" || kind === "recorded point";
  const where = to !== "" ? `, measured to: ${to}, as the record states`
    : point && hasSignal(f) ? " to the centre of the signal, an estimate"
      : ", as recorded; what it was measured to is not stated";
  return `${beside(depthText(d, units), own)}${where}. From that day's ground; do not dig to it.`;
}

function accuracyWords(f: Feature, o: Overlay, units: Units): string {
  const own = metresOf(f, "accuracy_m");
  const said = ownWords(f.getProperties(), "accuracy");
  if (own !== null) return `± ${beside(lengthText(own, units), said)}, as the record states`;
  if (said !== "") return `as the record words it: ${said}`;
  return o.accuracy_m === null ? "not stated" : `± ${lengthText(o.accuracy_m, units)}, as stated for the whole record`;
}

function levelWords(level: string): string {
  const known = levels.find((l) => l.level === level && level !== "");
  return known ? `${level}: ${known.words}` : levelText(level);
}

function frequency(v: unknown): string {
  return typeof v === "number" && Number.isFinite(v) ? frequencyText(v) : text(v);
}

function amount(v: unknown, unit: string): string {
  return typeof v === "number" && Number.isFinite(v) ? `${v.toLocaleString("en")} ${unit}` : text(v);
}
