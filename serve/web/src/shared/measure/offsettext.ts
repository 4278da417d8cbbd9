// Stations and offsets as text, and how sure they are.
import type { LonLat } from "../coords/geodesic";
import { feetOn, lineLength } from "../coords/station";
import { depthText, foot, type Units } from "../lib/units";
import { say } from "../lib/words";
import { type Doubt, doubtText, lengthDoubt, type Spot } from "./doubt";
import type { PickedLine } from "./snap";

/** A line, and points told by it. */
export interface Offsets {
  line: PickedLine | null;
  points: Spot[];
}

type Foot = ReturnType<typeof feetOn>[number];

/**
 * A station: stations of 100 ft to a tenth of a foot ("1+23.4"), or kilometers to the centimeter ("0+123.45").
 * Common practice. The foot is the international one; the survey foot is longer by two millionths of it.
 */
export function stationText(metres: number, units: Units): string {
  const [whole, station, places] = units === "us" ? [Math.round((metres / foot) * 10), 1000, 1] as const : [Math.round(metres * 100), 100_000, 2] as const;
  const rest = (Math.abs(whole) % station) / 10 ** places;
  const width = String(station).length; // of the digits before the point, the point, and those after it
  return `${whole < 0 ? "−" : ""}${Math.floor(Math.abs(whole) / station)}+${rest.toFixed(places).padStart(width, "0")}`;
}

/** How much farther a second place on the line may be and still count as near, in meters, where no doubt is stated. */
const nearlyAsNear = 0.3;
/** As many places on a line are told of one point. */
const mostFeet = 3;

/** The place on a line nearest to a point, and those that the doubt allows as well. */
export function feetWithin(line: PickedLine, point: Spot, doubt: Doubt): Foot[] {
  const all = feetOn(line.path, point.at);
  const most = (all[0]?.distance ?? 0) + (doubt.metres ?? nearlyAsNear);
  return all.filter((f, i) => f.distance <= most && !all.slice(0, i).some((g) => Math.abs(g.station - f.station) < 0.01)).slice(0, mostFeet);
}

/** The doubt of station and offset, each. */
export const offsetDoubt = (line: PickedLine, point: Spot, units: Units): Doubt => lengthDoubt([line.doubt, point.doubt], units);

/** Station and offset of a point in sentences: the nearest place, the others as near, the doubt. */
export function offsetText(line: PickedLine, point: Spot, units: Units): { main: string; more: string[]; doubt: string } {
  const doubt = offsetDoubt(line, point, units);
  const [first, ...others] = feetWithin(line, point, doubt);
  if (first === undefined) return { main: say("offset.no_line"), more: [], doubt: "" };
  return {
    main: footText(first, line, units),
    more: others.map((f) => say("offset.also", { words: footText(f, line, units) })),
    doubt: say("offset.doubt", { doubt: doubtText(doubt, units) }),
  };
}

function footText(f: Foot, { path }: PickedLine, units: Units): string {
  const side = sideText(f.offset, units);
  switch (f.where) {
    case "beside": return say("offset.beside", { station: stationText(f.station, units), side });
    case "bend": return say("offset.bend", { station: stationText(f.station, units), side });
    case "before": return say("offset.before", { far: depthText(-f.station, units), start: stationText(0, units), side });
    case "beyond": {
      const length = lineLength(path);
      return say("offset.beyond", { far: depthText(f.station - length, units), end: stationText(length, units), side });
    }
  }
}

function sideText(offset: number, units: Units): string {
  const length = depthText(Math.abs(offset), units);
  if (length === depthText(0, units)) return say("offset.on");
  return offset < 0 ? say("offset.left", { length }) : say("offset.right", { length });
}

/** A line marked by hand, as sure as its least sure point. */
export function markedLine(corners: Spot[]): PickedLine | null {
  if (corners.length < 2) return null;
  const least = corners.reduce((a, b) => (a.doubt.metres === null || (b.doubt.metres !== null && b.doubt.metres <= a.doubt.metres) ? a : b));
  return {
    path: corners.map((c) => c.at), what: say("offset.marked", { n: corners.length }), grounds: least.grounds,
    doubt: { metres: least.doubt.metres, atLeast: corners.some((c) => c.doubt.atLeast) },
  };
}

/** The same line in the other direction. */
export const swapped = (line: PickedLine): PickedLine => ({ ...line, path: [...line.path].reverse() });

/** What always holds for stations and offsets; said once. */
export const offsetLimits = (units: Units): string[] => [
  say("offset.caution"), units === "us" ? say("tie.level_us") : say("tie.level_metric"), units === "us" ? say("offset.form_us") : say("offset.form_metric"), say("tie.sums"),
];

/** Everything as lines of text; `place` gives coordinates. */
export function offsetsText({ line, points }: Offsets, units: Units, place: (at: LonLat) => string): string {
  if (line === null) return "";
  const [start, end] = [line.path[0] as LonLat, line.path[line.path.length - 1] as LonLat];
  return [
    say("tie.line", { what: line.what, grounds: line.grounds }),
    say("offset.start", { station: stationText(0, units), place: place(start) }),
    say("offset.end", { station: stationText(lineLength(line.path), units), place: place(end) }),
    ...points.flatMap((p, i) => {
      const { main, more, doubt } = offsetText(line, p, units);
      return ["", say("offset.row", { name: pointName(p, i), words: main }), ...more, doubt, say("tie.line", { what: p.what, grounds: p.grounds }), place(p.at)];
    }),
    "", ...offsetLimits(units),
  ].join("\n");
}

/** The name of a point: its number, and what the person calls it. */
export const pointName = (p: Spot, i: number): string =>
  p.named === "" ? say("offset.point", { n: i + 1 }) : say("offset.point_named", { n: i + 1, name: p.named });
