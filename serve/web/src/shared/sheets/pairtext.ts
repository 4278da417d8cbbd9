// Two lines that cross or run beside each other, as text.
import { depthText, lengthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { boundedText, numberOf, type Properties } from "../records/record";

type Row = [string, string];

/** How far two lines run beside each other, and what that tells. */
export function besideRows(f: Properties, units: Units): Row[] {
  const long = numberOf(f, "length_m");
  const stations: unknown = f.get("stations_m");
  const first: unknown = Array.isArray(stations) && Array.isArray(stations[0]) ? stations[0][0] : undefined;
  const rows: Row[] = [];
  if (long !== null) {
    rows.push([say("worked.over"), typeof first === "number" ? say("beside.over", { length: lengthText(long, units), station: lengthText(first, units) }) : lengthText(long, units)]);
  }
  rows.push([say("worked.relation"), boundedText(f.get("relation"))]);
  return rows;
}

/** The results of the job's clearance rules. */
export function ruleRows(f: Properties): Row[] {
  const all: unknown = f.get("rules");
  const isObject = (r: unknown): r is Record<string, unknown> => typeof r === "object" && r !== null;
  return (Array.isArray(all) ? all : []).filter(isObject).map((r): Row => [
    say("worked.clearance"), boundedText(r["verdict"]) === "not known"
      ? say("rule.told_open", { asked: boundedText(r["asked"]), by: boundedText(r["by"]), why: boundedText(r["why"]) })
      : say("rule.told", { asked: boundedText(r["asked"]), by: boundedText(r["by"]), verdict: boundedText(r["verdict"]), why: boundedText(r["why"]) })]);
}

/** An unknown depth, with the nearest reading of the utility where there is one. */
export function unknownDepthText(unknown: unknown, units: Units): string {
  const near = typeof unknown === "object" && unknown !== null ? (unknown as { near?: unknown }).near : undefined;
  if (typeof near !== "object" || near === null) return say("worked.unknown");
  const { m, apart_m, own, of } = near as Record<string, unknown>;
  if (typeof m !== "number" || typeof apart_m !== "number") return say("worked.unknown");
  const depth = `${depthText(m, units)} ${say("crossing.to", { part: boundedText(of) || say("worked.no_part") })}`;
  const whose = own === true ? say("crossing.near_own") : say("crossing.near_other");
  return say("crossing.near", { depth, apart: lengthText(apart_m, units), whose });
}
