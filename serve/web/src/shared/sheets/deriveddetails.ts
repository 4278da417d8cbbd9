// The details of what is worked out from records, in the grammar of a record: what leads, its limits, the rest as rows.
import type Feature from "ol/Feature";
import { recordIdsOf } from "../derived/layers";
import type { Overlay } from "../lib/api";
import { localDayOf } from "../lib/dates";
import { depthText, lengthText, roundedUpText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { RecordLayer } from "../records/layer";
import { boundedText, numberOf } from "../records/record";
import type { Lead } from "./lead";
import { besideRows, ruleRows, unknownDepthText } from "./pairtext";
import { derivedTag, detailsSection } from "./section";
import { derivedStateText } from "./statetext";

/** The record that a derived feature comes from, the i-th of its lines. */
function recordOf(f: Feature, records: RecordLayer[], i = 0): Overlay | undefined {
  return records.find((r) => r.overlay.id === recordIdsOf(f)[i])?.overlay;
}

/** What a derived feature is: "Crossing 3". */
export function derivedTitle(f: Feature): string {
  switch (f.get("part")) {
    case "crossing": return say("worked.crossing", { number: boundedText(f.get("number")) });
    case "beside": return say("worked.beside_head", { number: boundedText(f.get("number")) });
    case "entry": return say("worked.entry");
    case "line": return say("worked.line");
    default: return f.get("part") === "uncertainty" ? say("worked.zone_more") : say("worked.zone");
  }
}

/** Its sign: the number on the map, or what is drawn there. */
export function derivedSign(f: Feature): string {
  switch (f.get("part")) {
    case "crossing": case "beside": return boundedText(f.get("number"));
    case "entry": return "!";
    default: return "";
  }
}

/** The lines it is about, in words. */
export function derivedOf(f: Feature, records: RecordLayer[]): string {
  const both = f.get("part") === "crossing" || f.get("part") === "beside";
  return both ? say("worked.of_both", { one: utilityOf(f, records), other: utilityOf(f, records, 1) }) : utilityOf(f, records);
}

function utilityOf(f: Feature, records: RecordLayer[], i = 0): string {
  const o = recordOf(f, records, i);
  return o === undefined ? say("details.no_utility") : say("worked.named", { title: o.utility_name || say("details.no_utility"), name: o.title });
}

/** What leads, by the kind of a derived feature. */
export function derivedLead(f: Feature, units: Units): Lead {
  const plain = (value: string, reference: string, caution = ""): Lead => ({ value, reference, known: [], caution });
  const length = (name: string) => {
    const m = numberOf(f, name);
    return m === null ? null : lengthText(m, units);
  };
  switch (f.get("part")) {
    case "crossing": return crossingLead(f, units);
    case "beside": return plain(length("least_m") ?? say("lead.not_known"), say("lead.beside"), say("crossing.limits"));
    case "line": return plain(say("lead.readings", { n: numberOf(f, "readings") ?? 0 }), say("worked.straight_words"));
    case "entry": {
      const long = numberOf(f, "length_m") ?? 0;
      return long > 0 ? plain(lengthText(long, units), say("lead.inside")) : plain(length("nearest_m") ?? say("lead.not_known"), say("lead.nearest"));
    }
    default: {
      const reach = length("reach_m");
      return plain(reach ?? say("lead.not_known"), reach === null ? "" : say("lead.reach"), say("worked.note_words"));
    }
  }
}

// An earlier pack does not say what depths are measured to, so they cannot be compared.
const compared = (f: Feature): boolean => typeof f.get("kind") === "string";

function crossingLead(f: Feature, units: Units): Lead {
  const [apart, clear] = compared(f) ? [numberOf(f, "separation_m"), numberOf(f, "clear_m")] : [null, null];
  const relation = compared(f) ? boundedText(f.get("relation")) || say("crossing.unknown") : say("crossing.not_comparable");
  const lead = { known: [relation], caution: say("crossing.limits") };
  if (clear !== null) return { ...lead, value: lengthText(clear, units), reference: say("lead.clear") };
  if (apart !== null) return { ...lead, value: lengthText(apart, units), reference: say("lead.tops") };
  return { ...lead, value: say("lead.not_known"), reference: say("lead.which") };
}

/** The section about a derived feature. */
export function derivedDetails(f: Feature, records: RecordLayer[], units: Units, rule: string): HTMLElement {
  const head = { tag: derivedTag(derivedSign(f)), title: derivedTitle(f), small: derivedOf(f, records) };
  return detailsSection(head, derivedLead(f, units), rowsOf(f, (i) => utilityOf(f, records, i), units, rule));
}

type Row = [string, string];

function rowsOf(f: Feature, utility: (i: number) => string, units: Units, rule: string): Row[] {
  switch (f.get("part")) {
    case "crossing": return crossingRows(f, utility, units);
    case "beside": return [...lineRows(f, 0, utility), ...lineRows(f, 1, utility), ...besideRows(f, units), [say("worked.where"), whereText(f)], ...ruleRows(f)];
    case "entry": return [[say("worked.what"), boundedText(f.get("kind"))], ...stateRow(f.get("state"))];
    case "line": return [[say("worked.line_name"), boundedText(f.get("name")) || say("worked.no_name")], ...stateRow(f.get("state"))];
    default: return [
      [say("worked.size"), f.get("size_known") === true ? say("details.reach_size") : say("details.reach_no_size")],
      [say("worked.rule"), rule || say("details.not_stated")]];
  }
}

function item(f: Feature, name: string, i: number): unknown {
  const list: unknown = f.get(name);
  return Array.isArray(list) ? list[i] : undefined;
}

/** The row of a line's state, none where there is no state to show. */
function stateRow(value: unknown): Row[] {
  const state = derivedStateText(value);
  return state === "" ? [] : [[say("worked.state"), state]];
}

function crossingRows(f: Feature, utility: (i: number) => string, units: Units): Row[] {
  const rows: Row[] = [];
  for (const i of [0, 1]) rows.push(...lineRows(f, i, utility), [say("worked.depth"), depthWords(f, i, units)]);
  const [apart, clear] = [numberOf(f, "separation_m"), numberOf(f, "clear_m")];
  if (compared(f) && apart !== null && clear !== null) rows.push([say("worked.tops"), say("crossing.tops_apart", { length: lengthText(apart, units) })]);
  return [...rows, [say("worked.where"), whereText(f)], ...ruleRows(f)];
}

function whereText(f: Feature): string {
  return f.get("in_area") === true ? say("worked.inside") : say("worked.outside");
}

function lineRows(f: Feature, i: number, utility: (i: number) => string): Row[] {
  const [title, name] = [utility(i), boundedText(item(f, "names", i))];
  return [[i === 0 ? say("worked.one") : say("worked.other"), name === "" ? title : say("worked.named", { title, name })], ...stateRow(item(f, "states", i))];
}

function depthWords(f: Feature, i: number, units: Units): string {
  const depth = item(f, "depths_m", i);
  const gap = item(f, "gaps_m", i);
  if (typeof depth !== "number") return unknownDepthText(item(f, "depths", i), units);
  const words = basisText(item(f, "bases", i), depthText(depth, units), typeof gap === "number" ? lengthText(gap, units) : "");
  const rests = restsOn(f, i, units);
  return rests === "" ? words : say("worked.rests", { depth: words, rests });
}

function basisText(basis: unknown, depth: string, length: string): string {
  switch (basis) {
    case "reading": return say("worked.reading", { depth });
    case "test hole": return say("worked.test_hole", { depth });
    case "between readings": return length === "" ? say("worked.between", { depth }) : say("worked.between_apart", { depth, length });
    default: return say("worked.whole", { depth });
  }
}

/** What a depth is measured to and based on; "" in an earlier pack. */
function restsOn(f: Feature, i: number, units: Units): string {
  const d = item(f, "depths", i);
  if (typeof d !== "object" || d === null) return "";
  const { of, level, recorded, doubt_m, also_m, mixed } = d as Record<string, unknown>;
  const parts = [
    say("crossing.to", { part: boundedText(of) || say("worked.no_part") }),
    say("crossing.rests", { level: boundedText(level) || say("details.not_stated"), date: localDayOf(boundedText(recorded)) || say("details.not_stated") }),
    typeof doubt_m === "number" ? say("crossing.doubt", { length: roundedUpText(doubt_m, units) }) : "",
    typeof also_m === "number" ? say("crossing.also", { depth: depthText(also_m, units) }) : "",
    mixed === true ? say("crossing.mixed") : "",
  ];
  return parts.filter((p) => p !== "").join(", ");
}
