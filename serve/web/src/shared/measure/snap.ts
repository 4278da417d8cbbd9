// What a place on the map may stand for: a reading, a crossing, a corner or a line of a record.
import type Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import { boundingExtent, buffer } from "ol/extent";
import { type Geometry, LineString, MultiLineString, type SimpleGeometry } from "ol/geom";
import { toLonLat } from "ol/proj";
import type { LonLat } from "../coords/geodesic";
import type { Overlay } from "../lib/api";
import { depthText, lengthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { RecordSet } from "../map/recordset";
import { type Hit, isOn, isTiled } from "../records/layer";
import { boundedText, featureKind, numberOf } from "../records/record";
import type { Doubt, Spot } from "./doubt";

/** How near the cross must be, in pixels: it is put more exactly than a thumb. */
export const underCross = 12;

/** A line of a record. */
export interface PickedLine {
  path: LonLat[];
  what: string;
  doubt: Doubt;
  grounds: string;
}

export interface Snapper {
  /** The nearest reading, crossing or corner within some pixels at a resolution; null for none. */
  spotNear(place: Coordinate, pixels: number, resolution: number): Promise<Spot | null>;
  /** The nearest line within some pixels; null for none. */
  lineNear(place: Coordinate, pixels: number, resolution: number): Promise<PickedLine | null>;
}

export function makeSnapper(records: RecordSet, units: Units): Snapper {
  const near = async (place: Coordinate, pixels: number, resolution: number): Promise<Hit[]> => {
    const square = buffer(boundingExtent([place]), pixels * resolution);
    const own = records.layers.filter((l) => isOn(l) && !isTiled(l))
      .flatMap((l) => (l.parts[0].getSource()?.getFeaturesInExtent(square) ?? []).map((feature) => ({ feature, overlay: l.overlay })));
    // Without the laptop a large record gives nothing: the spot is then that under the cross.
    const large = await records.tiled.near(place, resolution).catch(() => ({ hits: [] }));
    return [...own, ...large.hits];
  };
  return {
    async spotNear(place, pixels, resolution) {
      const crossings = records.derived.places().crossings.map(([, at]): Corner => ({ at, what: say("tie.crossing"), ...unstated() }));
      const corners = (await near(place, pixels, resolution)).flatMap(({ feature, overlay }) => cornersOf(feature).map((at): Corner => ({ at, ...about(feature, overlay, units) })));
      const best = nearest([...crossings, ...corners], place, pixels * resolution);
      return best === null ? null : { ...best, at: toLonLat(best.at) as LonLat, named: "" };
    },
    async lineNear(place, pixels, resolution) {
      const lines = (await near(place, pixels, resolution)).flatMap(({ feature, overlay }) => partsOf(feature.getGeometry())
        .map((line) => ({ line, at: line.getClosestPoint(place), ...about(feature, overlay, units), what: lineName(feature, overlay) })));
      const best = nearest(lines, place, pixels * resolution);
      return best === null ? null : { path: best.line.getCoordinates().map((c) => toLonLat(c) as LonLat), what: best.what, doubt: best.doubt, grounds: best.grounds };
    },
  };
}

interface Corner {
  at: Coordinate;
  what: string;
  doubt: Doubt;
  grounds: string;
}

function nearest<T extends { at: Coordinate }>(all: T[], [x = 0, y = 0]: Coordinate, reach: number): T | null {
  let [best, least]: [T | null, number] = [null, reach];
  for (const one of all) {
    const far = Math.hypot((one.at[0] ?? 0) - x, (one.at[1] ?? 0) - y);
    if (far <= least) [best, least] = [one, far];
  }
  return best;
}

/** Every corner of a shape, or the point that it is. */
function cornersOf(f: Feature): Coordinate[] {
  const shape = f.getGeometry() as SimpleGeometry | undefined;
  const [flat, stride] = [shape?.getFlatCoordinates?.() ?? [], shape?.getStride?.() ?? 2];
  return Array.from({ length: Math.floor(flat.length / stride) }, (_, i) => [flat[i * stride] ?? 0, flat[i * stride + 1] ?? 0]);
}

function partsOf(shape: Geometry | undefined): LineString[] {
  if (shape instanceof LineString) return [shape];
  return shape instanceof MultiLineString ? shape.getLineStrings() : [];
}

const unstated = (): { doubt: Doubt; grounds: string } => ({ doubt: { metres: null, atLeast: false }, grounds: say("tie.grounds_crossing") });

function about(f: Feature, overlay: Overlay, units: Units): Omit<Corner, "at"> {
  const kind = featureKind(f.getGeometry()?.getType() ?? "", f);
  const depth = numberOf(f, "depth_m");
  const title = lineName(f, overlay);
  const what = kind === "reading" || kind === "test hole" || kind === "recorded point"
    ? depth === null ? say("tie.point_of", { title }) : say("tie.depth_of", { title, depth: depthText(depth, units) })
    : say("tie.corner_of", { title });
  const metres = numberOf(f, "accuracy_m") ?? overlay.accuracy_m ?? 0;
  if (metres <= 0) return { what, doubt: { metres: null, atLeast: false }, grounds: say("tie.grounds_none") };
  return { what, doubt: { metres, atLeast: false }, grounds: say("tie.grounds_record", { length: lengthText(metres, units) }) };
}

const lineName = (f: Feature, { title }: Overlay): string => {
  const label = boundedText(f.get("label"));
  return label === "" ? title : say("tie.labelled", { title, label });
};
