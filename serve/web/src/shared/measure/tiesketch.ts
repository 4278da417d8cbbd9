// Ties on the map: tapes with their lengths, the arcs of the swing, and how far off the spot may be.
import Feature from "ol/Feature";
import { type Geometry, LineString, Point, Polygon } from "ol/geom";
import { fromLonLat } from "ol/proj";
import { direct, type LonLat } from "../coords/geodesic";
import { depthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { bestSwing, type Swing, tapeTo, type Ties } from "./tietext";

/** What is drawn: its kind decides the style, a text is written beside it. */
export function sketched(kind: string, geometry: Geometry, text = ""): Feature {
  const f = new Feature(geometry);
  f.setProperties({ kind, text });
  return f;
}

export const pointOf = (at: LonLat): Point => new Point(fromLonLat(at));
export const lineOf = (path: LonLat[]): LineString => new LineString(path.map((p) => fromLonLat(p)));

/** The features of some ties. */
export function tieSketch(all: Ties, units: Units): Feature[] {
  const { target, ties } = all;
  const drawn = ties.map((t, i) => sketched("mark", pointOf(t.at), String(i + 1)));
  if (target === null) return drawn;
  ties.forEach((t, i) => {
    const length = depthText(tapeTo(t, target, units).metres, units);
    drawn.unshift(sketched("tape", lineOf([t.at, target.at]), say("tie.label", { n: i + 1, length })));
  });
  const found = bestSwing(all, units);
  return [...(found === null ? [] : swingSketch(all, found, units)), ...drawn, sketched("target", pointOf(target.at))];
}

/** How far an arc reaches beyond the spot to either side, in degrees. */
const arcReach = 10;

function swingSketch({ target, ties }: Ties, { pair, other, ellipse }: Swing, units: Units): Feature[] {
  const drawn: Feature[] = [];
  if (target === null) return drawn;
  for (const i of pair) {
    const tie = ties[i];
    if (tie === undefined) continue;
    const { metres, bearing } = tapeTo(tie, target, units);
    const arc = Array.from({ length: 21 }, (_, k) => direct(tie.at, bearing + ((k - 10) / 10) * arcReach, metres).at);
    drawn.push(sketched("arc", lineOf(arc)));
  }
  drawn.push(sketched("other", pointOf(other), say("tie.not_here")));
  if (ellipse !== null) drawn.push(sketched("ellipse", new Polygon([ellipseRing(target.at, ellipse).map((p) => fromLonLat(p))])));
  return drawn;
}

function ellipseRing(center: LonLat, { long, short, bearing }: { long: number; short: number; bearing: number }): LonLat[] {
  return Array.from({ length: 49 }, (_, i) => {
    const t = (i / 48) * 2 * Math.PI;
    const [along, across] = [long * Math.cos(t), short * Math.sin(t)];
    return direct(center, bearing + (Math.atan2(across, along) * 180) / Math.PI, Math.hypot(along, across)).at;
  });
}
