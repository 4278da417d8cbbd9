// The properties of a feature. Its own quality level, date and owner take precedence over
// those of its record.
import type { Overlay } from "../lib/api";
import { say } from "../lib/words";

/** The properties of one feature. */
export interface Properties {
  get(key: string): unknown;
}

/** A value, and whether the feature itself states it. */
export interface Stated {
  value: string;
  own: boolean;
}

/** The longest text that is shown, in characters. */
const longest = 600;

/** Any value as text of bounded length; "" for none. */
export function boundedText(v: unknown): string {
  if (v === null || v === undefined) return "";
  const s = (typeof v === "object" ? JSON.stringify(v) : String(v)).trim();
  return s.length > longest ? `${s.slice(0, longest)}…` : s;
}

function stated(own: string, whole: string): Stated {
  return own === "" ? { value: whole, own: false } : { value: own, own: true };
}

/** The quality level of a feature. */
export function qualityLevelOf(f: Properties, o: Overlay): Stated {
  return stated(boundedText(f.get("quality_level")), o.quality_level);
}

/** The date of a feature, or when it was recorded. */
export function dateOf(f: Properties, o: Overlay): Stated {
  return stated(boundedText(f.get("date")) || boundedText(f.get("recorded")), o.recorded);
}

/** The owner of a feature. */
export const ownerOf = (f: Properties, o: Overlay): Stated => stated(boundedText(f.get("owner")), o.owner);

/** A number, such as "depth_m" in meters; null where there is none. */
export function numberOf(f: Properties, name: string): number | null {
  const v = f.get(name);
  return typeof v === "number" && Number.isFinite(v) ? v : null;
}

/** Whether a feature has properties of an electromagnetic measurement. */
export function hasSignalStrength(f: Properties): boolean {
  return boundedText(f.get("frequency_hz")) !== "" || boundedText(f.get("current_ma")) !== "";
}

export type FeatureKind = "reading" | "test hole" | "recorded point" | "recorded line" | "recorded outline";

/** The kind of a feature. A point is a reading only if its depth comes with a signal or an accuracy of its own. */
export function featureKind(geometry: string, f: Properties): FeatureKind {
  if (geometry.endsWith("LineString")) return "recorded line";
  if (!geometry.endsWith("Point")) return "recorded outline";
  if (f.get("kind_as_read") === "test hole") return "test hole"; // as the import understood it
  const measured = numberOf(f, "depth_m") !== null && (hasSignalStrength(f) || numberOf(f, "accuracy_m") !== null);
  return measured ? "reading" : "recorded point";
}

const lengths = /^(depth|accuracy)(?:_(m|cm|mm|ft|in))?$/i;
/** Whether a property states a depth or an accuracy. */
export const isLengthKey = (key: string): boolean => lengths.test(key);

/** A depth or an accuracy as recorded, "3ft 5in" or "41 in"; "" for none. Meters come last: the import may have added them. */
export function asRecorded(properties: Record<string, unknown>, name: "depth" | "accuracy"): string {
  const written = boundedText(properties[`${name}_as_written`]);
  if (written !== "") return written;
  let metres = "";
  for (const [key, v] of Object.entries(properties)) {
    const [, of, unit] = lengths.exec(key.toLowerCase()) ?? [];
    if (of !== name || boundedText(v) === "") continue;
    if (unit === undefined) return boundedText(v);
    if (unit !== "m") return `${boundedText(v)} ${unit}`;
    metres = `${boundedText(v)} m`;
  }
  return metres;
}

/** A value, followed by the recorded text where that differs: "3′ 5″ (record: 3ft 5in)". */
export function withRecordWords(value: string, words: string): string {
  const bare = (s: string) => s.replace(/\s/g, "");
  return words === "" || bare(words) === bare(value) ? value : say("details.beside", { value, words });
}

/** How many other features a feature of a vector tile stands for. */
export function mergedWith(f: Properties): number {
  const more = numberOf(f, "more");
  return more !== null && more > 0 ? more : 0;
}
