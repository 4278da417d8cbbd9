// Stations and offsets on the map.
import type Feature from "ol/Feature";
import { lineLength } from "../coords/station";
import { depthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { feetWithin, offsetDoubt, type Offsets, stationText } from "./offsettext";
import { lineOf, pointOf, sketched } from "./tiesketch";

/** The features of a line and the points told by it. */
export function offsetSketch({ line, points }: Offsets, units: Units): Feature[] {
  const marks = points.map((p, i) => sketched("mark", pointOf(p.at), String(i + 1)));
  if (line === null) return marks;
  const [start, end] = [line.path[0], line.path[line.path.length - 1]];
  if (start === undefined || end === undefined) return marks;
  const drawn = [
    sketched("path", lineOf(line.path)),
    sketched("foot", pointOf(start), say("offset.label_start", { station: stationText(0, units) })),
    sketched("foot", pointOf(end), stationText(lineLength(line.path), units)),
  ];
  for (const p of points) {
    feetWithin(line, p, offsetDoubt(line, p, units)).forEach((f, i) => {
      const [station, length] = [stationText(f.station, units), depthText(Math.abs(f.offset), units)];
      const label = f.offset < 0 ? say("offset.label_left", { station, length }) : say("offset.label_right", { station, length });
      drawn.push(sketched(i === 0 ? "tape" : "arc", lineOf([f.at, p.at]), i === 0 ? label : "")); // the sheet tells of the others
    });
  }
  return [...drawn, ...marks];
}
