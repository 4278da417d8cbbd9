// What the details of a record say first: its depth, what that was measured to, its age,
// how far off it may be, and the caution that belongs to it.
import type Feature from "ol/Feature";
import type { Overlay } from "../lib/api";
import { ageText, localDayOf } from "../lib/dates";
import { depthText, lengthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import {
  asRecorded, boundedText, dateOf, type FeatureKind, hasSignalStrength, numberOf, type Properties, qualityLevelOf, type Stated, withRecordWords,
} from "../records/record";
import { levelText, qualityLevels } from "../records/symbology";

export interface Lead {
  /** large: a depth or another length, or that it is not known */
  value: string;
  /** what the value was measured to, or how it came about */
  reference: string;
  /** age and certainty, one thing each */
  known: string[];
  /** small; "" for none */
  caution: string;
}

/** Parts of a line that records name with these words. */
const endOfLine = /^(top|bottom|center|crown|invert)(?: of (?:the )?(pipe|line|cable|duct|conduit|main|signal))?$/i;

/** What a depth is measured to, as the record states. */
function referenceText(f: Properties, kind: FeatureKind): string {
  const part = boundedText(f.get("depth_of"));
  const [, end = "", line = ""] = endOfLine.exec(part.replace(/centre/i, "center")) ?? [];
  if (line !== "") return say("lead.to_end_of", { end: end.toLowerCase(), line: line.toLowerCase() });
  if (end !== "") return say("lead.to_end", { end: end.toLowerCase() });
  if (part !== "") return say("lead.to_part", { part });
  const point = kind === "reading" || kind === "recorded point";
  return point && hasSignalStrength(f) ? say("lead.to_signal") : say("lead.to_unknown");
}

/** A depth and its reference; a reference of "" where no depth is known. */
function depthAndReference(f: Feature, kind: FeatureKind, units: Units): { value: string; reference: string } {
  const d = numberOf(f, "depth_m");
  const own = asRecorded(f.getProperties(), "depth");
  if (d !== null) return { value: depthText(d, units), reference: referenceText(f, kind) };
  return own === "" ? { value: say("lead.no_depth"), reference: "" } : { value: say("lead.quoted", { words: own }), reference: say("lead.in_words") };
}

/** Depth and reference in one line. */
export function depthInLine(f: Feature, kind: FeatureKind, units: Units): string {
  const { value, reference } = depthAndReference(f, kind, units);
  return reference === "" ? say("lead.no_depth_in_line") : say("lead.in_line", { value, reference });
}

export function recordLead(f: Feature, overlay: Overlay, kind: FeatureKind, units: Units, now: Date): Lead {
  const level = qualityLevelOf(f, overlay);
  const known = [attributed(dateOf(f, overlay), (date) => agedText(date, now))];
  const measured = numberOf(f, "depth_m") !== null;
  if (measured) known.push(depthAccuracyText(f, units));
  known.push(placeAccuracyText(f, overlay, units), attributed(level, levelWords));
  return { ...depthAndReference(f, kind, units), known, caution: measured ? say("lead.that_day") : "" };
}

/** The age of a date, else the date as it stands. */
export const agedText = (date: string, now: Date): string => ageText(localDayOf(date), now) || date || say("date.not_stated");

/** Says so when a value is stated for the whole record only. */
function attributed(v: Stated, words: (value: string) => string): string {
  return v.own || v.value === "" ? words(v.value) : say("lead.whole", { value: words(v.value) });
}

function depthAccuracyText(f: Properties, units: Units): string {
  const own = numberOf(f, "depth_accuracy_m");
  return own === null ? say("lead.no_depth_accuracy") : say("lead.depth_accuracy", { length: lengthText(own, units) });
}

function placeAccuracyText(f: Feature, o: Overlay, units: Units): string {
  const own = numberOf(f, "accuracy_m");
  const said = asRecorded(f.getProperties(), "accuracy");
  if (own !== null) return say("lead.place_accuracy", { length: withRecordWords(lengthText(own, units), said) });
  if (said !== "") return say("lead.place_in_words", { words: said });
  return o.accuracy_m === null ? say("lead.no_place_accuracy") : say("lead.place_of_record", { length: lengthText(o.accuracy_m, units) });
}

function levelWords(level: string): string {
  const known = qualityLevels.find((l) => l.level === level && level !== "");
  return known ? say("lead.level", { level, words: known.words }) : levelText(level);
}
