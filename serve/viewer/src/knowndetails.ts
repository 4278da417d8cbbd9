// What was worked out of the records at a tapped place, in plain words.
import type Feature from "ol/Feature";
import { make } from "./dom";
import { terms } from "./layers";
import { overlaysOf } from "./known";
import type { Layer } from "./overlays";
import { metresOf, text } from "./record";
import { depthText, lengthText, type Units } from "./units";

/** How many zones and entries a sheet tells of. */
const most = 6;

/** The sections of what was worked out, crossings first. */
export function knownBody(found: Feature[], records: Layer[], units: Units, rule: string): Node[] {
  const utilityOf = (f: Feature, i = 0) => {
    const o = records.find((r) => r.overlay.id === overlaysOf(f)[i])?.overlay;
    return o === undefined ? "utility not stated" : `${o.utility_name || "utility not stated"}, ${o.title}`;
  };
  const parts = found.slice(0, most).map((f) => {
    switch (f.get("part")) {
      case "crossing": return crossing(f, utilityOf, units);
      case "entry": return entry(f, utilityOf(f), units);
      case "line": return section("Line through readings", utilityOf(f), [
        ["Line", text(f.get("name")) || "not named"], ["Readings", text(f.get("readings"))],
        ["Between them", "drawn straight; no record tells where it runs"]]);
      default: return zone(f, utilityOf(f), units, rule);
    }
  });
  if (found.length > most) parts.push(make("section", "hit", make("p", "", "Zoom in to see the others.")));
  return parts;
}

function section(title: string, small: string, rows: [string, string][]): HTMLElement {
  return make("section", "hit", make("div", "head", make("h3", "", title, make("small", "", small))), terms(rows));
}

function item(f: Feature, name: string, i: number): unknown {
  const list: unknown = f.get(name);
  return Array.isArray(list) ? list[i] : undefined;
}

function crossing(f: Feature, utilityOf: (f: Feature, i: number) => string, units: Units): HTMLElement {
  const apart = metresOf(f, "separation_m");
  const rows: [string, string][] = [["Which is above", text(f.get("relation")) || "vertical relation unknown"]];
  for (const i of [0, 1]) {
    const name = text(item(f, "names", i));
    rows.push([`${i === 0 ? "One" : "Other"} line`, utilityOf(f, i) + (name === "" ? "" : `, ${name}`)], ["Its depth here", depthWords(f, i, units)]);
  }
  rows.push(["Between the depths", apart === null ? "unknown" : `${lengthText(apart, units)}, as recorded; the pipes' sizes are not taken off`]);
  rows.push(["Worked out", "from records and readings; both may be wrong. Dig by hand near both."]);
  return section(`Crossing ${text(f.get("number"))}`, f.get("in_area") === true ? "in the dig area" : "outside the dig area", rows);
}

function depthWords(f: Feature, i: number, units: Units): string {
  const depth = item(f, "depths_m", i);
  const gap = item(f, "gaps_m", i);
  if (typeof depth !== "number") return "unknown";
  const d = depthText(depth, units);
  switch (item(f, "bases", i)) {
    case "reading": return `${d}, a reading at this place`;
    case "between readings": return `${d}, worked out between readings ${typeof gap === "number" ? `${lengthText(gap, units)} apart` : ""}`;
    default: return `${d}, as recorded for the whole line`;
  }
}

function entry(f: Feature, of: string, units: Units): HTMLElement {
  const rows: [string, string][] = [["What", text(f.get("kind"))]];
  const [long, near] = [metresOf(f, "length_m"), metresOf(f, "nearest_m")];
  if (long !== null && long > 0) rows.push(["Inside, as recorded", lengthText(long, units)]);
  else if (near !== null) rows.push(["Nearest, as recorded", `${lengthText(near, units)} from the dig area`]);
  return section("Recorded line at the dig area", of, rows);
}

function zone(f: Feature, of: string, units: Units, rule: string): HTMLElement {
  const reach = metresOf(f, "reach_m");
  const doubt = f.get("part") === "uncertainty";
  return section(doubt ? "Tolerance zone with the record's uncertainty" : "Tolerance zone", of, [
    ["Reach", reach === null ? "not stated" : `${lengthText(reach, units)} each side of the recorded centre line`],
    ["Size of the line", f.get("size_known") === true ? "recorded; half of it is in the reach" : "not recorded: the reach begins at the centre line"],
    ["Rule", rule === "" ? "not stated" : rule],
    ["Note", "For planning. The legal zone starts at the marks on the ground."]]);
}
