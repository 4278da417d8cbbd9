// What was worked out of the records at a tapped place, in plain words.
import type Feature from "ol/Feature";
import { dayOf } from "./dates";
import { make } from "./dom";
import { terms } from "./layers";
import { overlaysOf } from "./known";
import type { Layer } from "./overlays";
import { metresOf, text } from "./record";
import { upText } from "./positionsight";
import { toldState } from "./state";
import { depthText, lengthText, type Units } from "./units";
import { say } from "./words";

/** How many zones and entries a sheet tells of. */
const most = 6;

/** The sections of what was worked out, crossings first. */
export function knownBody(found: Feature[], records: Layer[], units: Units, rule: string): Node[] {
  const utilityOf = (f: Feature, i = 0) => {
    const o = records.find((r) => r.overlay.id === overlaysOf(f)[i])?.overlay;
    return o === undefined ? say("details.no_utility") : `${o.utility_name || say("details.no_utility")}, ${o.title}`;
  };
  const parts = found.slice(0, most).map((f) => {
    switch (f.get("part")) {
      case "crossing": return crossing(f, utilityOf, units);
      case "entry": return entry(f, utilityOf(f), units);
      case "line": return section("Line through readings", utilityOf(f), [
        ["Line", text(f.get("name")) || "not named"], ...stateRow(f.get("state")), ["Readings", text(f.get("readings"))],
        ["Between them", "drawn straight; no record tells where it runs"]]);
      default: return zone(f, utilityOf(f), units, rule);
    }
  });
  if (found.length > most) parts.push(make("section", "hit", make("p", "", say("details.zoom"))));
  return parts;
}

function section(title: string, small: string, rows: [string, string][]): HTMLElement {
  return make("section", "hit", make("div", "head", make("h3", "", title, make("small", "", small))), terms(rows));
}

function item(f: Feature, name: string, i: number): unknown {
  const list: unknown = f.get(name);
  return Array.isArray(list) ? list[i] : undefined;
}

/** The row of a line's state; none where there is nothing to tell. */
function stateRow(told: unknown): [string, string][] {
  const state = toldState(told);
  return state === "" ? [] : [["Its state", state]];
}

function crossing(f: Feature, utilityOf: (f: Feature, i: number) => string, units: Units): HTMLElement {
  // A pack written before depths said what they are measured to compares nothing.
  const compared = typeof f.get("kind") === "string";
  const [apart, clear] = compared ? [metresOf(f, "separation_m"), metresOf(f, "clear_m")] : [null, null];
  const rows: [string, string][] = [["Which is above", compared ? text(f.get("relation")) || say("crossing.unknown") : say("crossing.not_comparable")]];
  for (const i of [0, 1]) {
    const name = text(item(f, "names", i));
    rows.push([`${i === 0 ? "One" : "Other"} line`, utilityOf(f, i) + (name === "" ? "" : `, ${name}`)], ...stateRow(item(f, "states", i)),
      ["Its depth here", depthWords(f, i, units)]);
  }
  if (apart !== null) rows.push(["Between the tops", say("crossing.tops_apart", { length: lengthText(apart, units) })]);
  if (clear !== null) rows.push(["Between the two", say("crossing.clear", { length: lengthText(clear, units) })]);
  rows.push(["Worked out", say("crossing.limits")]);
  return section(`Crossing ${text(f.get("number"))}`, f.get("in_area") === true ? "in the dig area" : "outside the dig area", rows);
}

function depthWords(f: Feature, i: number, units: Units): string {
  const depth = item(f, "depths_m", i);
  const gap = item(f, "gaps_m", i);
  if (typeof depth !== "number") return "unknown";
  const d = depthText(depth, units);
  switch (item(f, "bases", i)) {
    case "reading": return `${d}, a reading at this place${restsOn(f, i, units)}`;
    case "test hole": return `${d}, a test hole at this place${restsOn(f, i, units)}`;
    case "between readings": return `${d}, worked out between readings ${typeof gap === "number" ? `${lengthText(gap, units)} apart` : ""}${restsOn(f, i, units)}`;
    default: return `${d}, as recorded for the whole line${restsOn(f, i, units)}`;
  }
}

/** What a depth is measured to and what it rests on; "" in a pack that does not say. */
function restsOn(f: Feature, i: number, units: Units): string {
  const d = item(f, "depths", i);
  if (typeof d !== "object" || d === null) return "";
  const { of, level, recorded, doubt_m, also_m, mixed } = d as Record<string, unknown>;
  const parts = [
    say("crossing.to", { part: text(of) || "part not stated" }),
    say("crossing.rests", { level: text(level) || "not stated", date: dayOf(text(recorded)) || "not stated" }),
    typeof doubt_m === "number" ? say("crossing.doubt", { length: upText(doubt_m, units) }) : "",
    typeof also_m === "number" ? say("crossing.also", { depth: depthText(also_m, units) }) : "",
    mixed === true ? say("crossing.mixed") : "",
  ];
  return `, ${parts.filter((p) => p !== "").join(", ")}`;
}

function entry(f: Feature, of: string, units: Units): HTMLElement {
  const rows: [string, string][] = [["What", text(f.get("kind"))], ...stateRow(f.get("state"))];
  const [long, near] = [metresOf(f, "length_m"), metresOf(f, "nearest_m")];
  if (long !== null && long > 0) rows.push(["Inside, as recorded", lengthText(long, units)]);
  else if (near !== null) rows.push(["Nearest, as recorded", `${lengthText(near, units)} from the dig area`]);
  return section("Recorded line at the dig area", of, rows);
}

function zone(f: Feature, of: string, units: Units, rule: string): HTMLElement {
  const reach = metresOf(f, "reach_m");
  const doubt = f.get("part") === "uncertainty";
  return section(doubt ? "Tolerance zone with the record's uncertainty" : "Tolerance zone", of, [
    ["Reach", reach === null ? say("details.not_stated") : say("details.reach", { length: lengthText(reach, units) })],
    ["Size of the line", f.get("size_known") === true ? say("details.reach_size") : say("details.reach_no_size")],
    ["Rule", rule === "" ? "not stated" : rule],
    ["Note", "For planning. The legal zone starts at the marks on the ground."]]);
}
