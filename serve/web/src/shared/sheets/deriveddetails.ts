// The details of derived features at a tapped place.
import type Feature from "ol/Feature";
import { recordIdsOf } from "../derived/layers";
import { localDayOf } from "../lib/dates";
import { definitionList, make } from "../lib/dom";
import { depthText, lengthText, roundedUpText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { RecordLayer } from "../records/layer";
import { boundedText, numberOf } from "../records/record";
import { besideRows, ruleRows, unknownDepthText } from "./pairtext";
import { derivedStateText } from "./statetext";

/** The most derived features that a sheet shows. */
const most = 6;

/** The sections about derived features. */
export function derivedDetails(found: Feature[], records: RecordLayer[], units: Units, rule: string): Node[] {
  const utilityOf = (f: Feature, i = 0) => {
    const o = records.find((r) => r.overlay.id === recordIdsOf(f)[i])?.overlay;
    return o === undefined ? say("details.no_utility") : say("worked.named", { title: o.utility_name || say("details.no_utility"), name: o.title });
  };
  const parts = found.slice(0, most).map((f) => {
    switch (f.get("part")) {
      case "crossing": return crossing(f, utilityOf, units);
      case "beside": return beside(f, utilityOf, units);
      case "entry": return entry(f, utilityOf(f), units);
      case "line": return section(say("worked.line"), utilityOf(f), [
        [say("worked.line_name"), boundedText(f.get("name")) || say("worked.no_name")], ...stateRow(f.get("state")), [say("worked.readings"), boundedText(f.get("readings"))],
        [say("worked.straight"), say("worked.straight_words")]]);
      default: return zone(f, utilityOf(f), units, rule);
    }
  });
  if (found.length > most) parts.push(make("section", "hit", make("p", "", say("details.zoom"))));
  return parts;
}

function section(title: string, small: string, rows: [string, string][]): HTMLElement {
  return make("section", "hit", make("div", "head", make("h3", "", title, make("small", "", small))), definitionList(rows));
}

function item(f: Feature, name: string, i: number): unknown {
  const list: unknown = f.get(name);
  return Array.isArray(list) ? list[i] : undefined;
}

/** The row of a line's state, none where there is no state to show. */
function stateRow(value: unknown): [string, string][] {
  const state = derivedStateText(value);
  return state === "" ? [] : [[say("worked.state"), state]];
}

function crossing(f: Feature, utilityOf: (f: Feature, i: number) => string, units: Units): HTMLElement {
  // An earlier pack does not say what depths are measured to, so they cannot be compared.
  const compared = typeof f.get("kind") === "string";
  const [apart, clear] = compared ? [numberOf(f, "separation_m"), numberOf(f, "clear_m")] : [null, null];
  const rows: [string, string][] = [[say("worked.which"), compared ? boundedText(f.get("relation")) || say("crossing.unknown") : say("crossing.not_comparable")]];
  for (const i of [0, 1]) rows.push(...lineRows(f, i, utilityOf), [say("worked.depth"), depthWords(f, i, units)]);
  if (apart !== null) rows.push([say("worked.tops"), say("crossing.tops_apart", { length: lengthText(apart, units) })]);
  if (clear !== null) rows.push([say("worked.clear"), say("crossing.clear", { length: lengthText(clear, units) })]);
  rows.push(...ruleRows(f), [say("worked.worked_out"), say("crossing.limits")]);
  return section(say("worked.crossing", { number: boundedText(f.get("number")) }), whereText(f), rows);
}

function whereText(f: Feature): string {
  return f.get("in_area") === true ? say("worked.inside") : say("worked.outside");
}

function lineRows(f: Feature, i: number, utilityOf: (f: Feature, i: number) => string): [string, string][] {
  const [title, name] = [utilityOf(f, i), boundedText(item(f, "names", i))];
  return [[i === 0 ? say("worked.one") : say("worked.other"), name === "" ? title : say("worked.named", { title, name })], ...stateRow(item(f, "states", i))];
}

function beside(f: Feature, utilityOf: (f: Feature, i: number) => string, units: Units): HTMLElement {
  return section(say("worked.beside_head", { number: boundedText(f.get("number")) }), whereText(f), [
    ...lineRows(f, 0, utilityOf), ...lineRows(f, 1, utilityOf), ...besideRows(f, units), ...ruleRows(f), [say("worked.worked_out"), say("crossing.limits")]]);
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

function entry(f: Feature, of: string, units: Units): HTMLElement {
  const rows: [string, string][] = [[say("worked.what"), boundedText(f.get("kind"))], ...stateRow(f.get("state"))];
  const [long, near] = [numberOf(f, "length_m"), numberOf(f, "nearest_m")];
  if (long !== null && long > 0) rows.push([say("worked.length"), lengthText(long, units)]);
  else if (near !== null) rows.push([say("worked.nearest"), say("worked.from_area", { length: lengthText(near, units) })]);
  return section(say("worked.entry"), of, rows);
}

function zone(f: Feature, of: string, units: Units, rule: string): HTMLElement {
  const reach = numberOf(f, "reach_m");
  const doubt = f.get("part") === "uncertainty";
  return section(doubt ? say("worked.zone_more") : say("worked.zone"), of, [
    [say("worked.reach"), reach === null ? say("details.not_stated") : say("details.reach", { length: lengthText(reach, units) })],
    [say("worked.size"), f.get("size_known") === true ? say("details.reach_size") : say("details.reach_no_size")],
    [say("worked.rule"), rule || say("details.not_stated")],
    [say("worked.note"), say("worked.note_words")]]);
}
