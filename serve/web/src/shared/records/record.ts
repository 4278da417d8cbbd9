// What a feature says of itself, and what its record says for it. A feature's
// own word comes first: a quality level, a date or an owner belongs to a
// segment or a point, and stands for the whole record only where none is given.
import type { Overlay } from "../lib/api";
import { say } from "../lib/words";

/** The properties of one feature. */
export interface Properties {
  get(key: string): unknown;
}

/** A value with whose word it is. */
export interface Stated {
  value: string;
  own: boolean;
}

/** How long a stranger's text may get. */
const longest = 600;

/** Any value as text of bounded length; "" for nothing. */
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

/** The date of a feature: its own date, or when it was recorded. */
export function dateOf(f: Properties, o: Overlay): Stated {
  return stated(boundedText(f.get("date")) || boundedText(f.get("recorded")), o.recorded);
}

/** The owner of a feature. */
export function ownerOf(f: Properties, o: Overlay): Stated {
  return stated(boundedText(f.get("owner")), o.owner);
}

/** A length in metres under a name such as "depth_m", or null where there is none that can be used. */
export function numberOf(f: Properties, name: string): number | null {
  const v = f.get(name);
  return typeof v === "number" && Number.isFinite(v) ? v : null;
}

/** Whether a feature bears the sign of an electromagnetic measurement. */
export function hasSignalStrength(f: Properties): boolean {
  return boundedText(f.get("frequency_hz")) !== "" || boundedText(f.get("current_ma")) !== "";
}

export type FeatureKind = "reading" | "test hole" | "recorded point" | "recorded line" | "recorded outline";

/**
 * What a feature is. A point counts as a reading only if its depth comes with
 * a signal or an accuracy of its own, and as a test hole where the line was
 * exposed; any other is a point that someone recorded.
 */
export function featureKind(geometry: string, f: Properties): FeatureKind {
  if (geometry.endsWith("LineString")) return "recorded line";
  if (!geometry.endsWith("Point")) return "recorded outline";
  if (f.get("kind_as_read") === "test hole") return "test hole"; // as the office read it
  const measured = numberOf(f, "depth_m") !== null && (hasSignalStrength(f) || numberOf(f, "accuracy_m") !== null);
  return measured ? "reading" : "recorded point";
}

const lengths = /^(depth|accuracy)(?:_(m|cm|mm|ft|in))?$/i;

/** Whether a property is one of the forms in which a depth or an accuracy is stated. */
export function isLengthKey(key: string): boolean {
  return lengths.test(key);
}

/**
 * A depth or an accuracy in the record's own words, "3ft 5in" or "41 in"; ""
 * where there is none. What a table's cell said counts first, metres last: they may
 * have been added to it.
 */
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

/** A value, with the record's own words beside it where they differ: "3′ 5″ (record: 3ft 5in)". */
export function withRecordWords(value: string, words: string): string {
  const bare = (s: string) => s.replace(/\s/g, "");
  return words === "" || bare(words) === bare(value) ? value : say("details.beside", { value, words });
}

/** How many other features a feature of a vector tile stands for. */
export function mergedWith(f: Properties): number {
  const more = numberOf(f, "more");
  return more !== null && more > 0 ? more : 0;
}
