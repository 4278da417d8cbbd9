// What is known of a tapped feature, in plain words. What is not stated is said so.
import type Feature from "ol/Feature";
import { make } from "./dom";
import { levelText, levels, swatch } from "./look";
import { terms } from "./layers";
import type { Overlay } from "./types";
import { dateText, lengthText, depthText, type Units } from "./units";
import { depthOf } from "./styles";

/** A feature under a tap, with the record it belongs to. */
export interface Hit {
  feature: Feature;
  overlay: Overlay;
}

const told = new Set([
  "geometry", "depth_m", "depth_of", "label", "size", "material", "date", "accuracy_m", "current_ma", "frequency_hz",
  "note", "owner", "record",
]);

/** How many features a sheet tells of, and how long a stranger's text may get. */
const mostHits = 12;
const longest = 600;

/** The body of the details sheet. */
export function detailsBody(hits: Hit[], units: Units): Node[] {
  const parts: Node[] = [];
  for (const h of hits.slice(0, mostHits)) parts.push(section(h, units));
  if (hits.length > mostHits) parts.push(make("p", "", "Zoom in to see the others."));
  return parts;
}

function section({ feature, overlay }: Hit, units: Units): HTMLElement {
  const kind = kindOf(feature);
  const rows: [string, string][] = [];
  const add = (name: string, value: string) => {
    if (value !== "") rows.push([name, value]);
  };
  rows.push(["Depth", depthWords(feature, kind, units)]);
  add("Label", text(feature.get("label")));
  rows.push(["Date", dateText(text(feature.get("date")) || overlay.recorded, new Date())]);
  rows.push(["Accuracy", accuracyWords(feature, overlay, units)]);
  rows.push(["Quality level", levelWords(overlay.quality_level)]);
  add("Size", text(feature.get("size")));
  add("Material", text(feature.get("material")));
  rows.push(["Owner", text(feature.get("owner")) || overlay.owner || "not stated"]);
  rows.push(["Record", text(feature.get("record")) || overlay.record || "not stated"]);
  add("Current", amount(feature.get("current_ma"), "mA"));
  add("Frequency", amount(feature.get("frequency_hz"), "Hz"));
  add("Note", text(feature.get("note")));
  add("Note on the record", overlay.note);
  for (const [k, v] of Object.entries(feature.getProperties())) {
    if (!told.has(k)) add(k, text(v));
  }
  const head = make("div", "head", swatch(overlay),
    make("h3", "", `${overlay.utility_name || "utility not stated"}, ${kind}`, make("small", "", overlay.title)));
  return make("section", "hit", head, terms(rows));
}

type Kind = "reading" | "recorded line" | "recorded outline";

function kindOf(f: Feature): Kind {
  const g = f.getGeometry()?.getType() ?? "";
  if (g.endsWith("Point")) return "reading";
  return g.endsWith("LineString") ? "recorded line" : "recorded outline";
}

function depthWords(f: Feature, kind: Kind, units: Units): string {
  const d = depthOf(f);
  if (d === null) return "not stated";
  const to = text(f.get("depth_of"));
  const value = depthText(d, units);
  if (kind !== "reading") return `${value}, ${to === "" ? "as recorded; to which part is not stated" : `to: ${to}, as recorded`}`;
  const where = to === "" ? "to the centre of the signal, an estimate" : `to: ${to}`;
  return `${value} ${where}. From that day's ground; do not dig to it.`;
}

function accuracyWords(f: Feature, o: Overlay, units: Units): string {
  const own: unknown = f.get("accuracy_m");
  const v = typeof own === "number" && Number.isFinite(own) ? own : o.accuracy_m;
  return v === null || v === undefined ? "not stated" : `± ${lengthText(v, units)}, as the record states`;
}

function levelWords(level: string): string {
  const known = levels.find((l) => l.level === level && level !== "");
  return known ? `${level}: ${known.words}` : levelText(level);
}

function amount(v: unknown, unit: string): string {
  return typeof v === "number" && Number.isFinite(v) ? `${v.toLocaleString("en")} ${unit}` : text(v);
}

/** Any value as text of bounded length; "" for nothing. */
function text(v: unknown): string {
  if (v === null || v === undefined) return "";
  const s = typeof v === "object" ? JSON.stringify(v) : String(v);
  return s.length > longest ? `${s.slice(0, longest)}…` : s;
}
