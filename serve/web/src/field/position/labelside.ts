// Where the name of a mark stands: on a side where it covers no reading, no crossing and no depth.
import type OLMap from "ol/Map";
import type { FrameState } from "ol/Map";
import type { Coordinate } from "ol/coordinate";
import type { Extent } from "ol/extent";
import { Point } from "ol/geom";
import VectorLayer from "ol/layer/Vector";

export type LabelSide = "below" | "above" | "right" | "left";

/** In the order of preference. */
const sides: LabelSide[] = ["below", "above", "right", "left"];
/** From the center of a mark to the middle of a label above or below it, and to its edge at the sides; half a label's height. In pixels. */
const [down, aside, half] = [26, 26, 10];
/** How far a dot with its casing reaches, in pixels. */
const dotRadius = 10;

function boxAt([x = 0, y = 0]: Coordinate, width: number, side: LabelSide): Extent {
  const [w, h] = [width / 2, half];
  switch (side) {
    case "below": return [x - w, y + down - h, x + w, y + down + h];
    case "above": return [x - w, y - down - h, x + w, y - down + h];
    case "right": return [x + aside, y - h, x + aside + width, y + h];
    case "left": return [x - aside - width, y - h, x - aside, y + h];
  }
}

/** The side for a label of a width at a pixel: the one before, if it is still free; null where no side is. */
export function freeSide(map: OLMap, frame: FrameState | null, pixel: Coordinate, width: number, before: LabelSide | null): LabelSide | null {
  const order = before === null ? sides : [before, ...sides.filter((s) => s !== before)];
  return order.find((side) => !covers(map, frame, boxAt(pixel, width, side))) ?? null;
}

function covers(map: OLMap, frame: FrameState | null, [left = 0, top = 0, right = 0, bottom = 0]: Extent): boolean {
  // What the renderer drew among labels and symbols, in pixels of its canvas.
  const ratio = frame?.pixelRatio ?? 1;
  const drawn = Object.values(frame?.declutter ?? {});
  if (drawn.some((tree) => tree.collides({ minX: left * ratio, minY: top * ratio, maxX: right * ratio, maxY: bottom * ratio }))) return true;
  const [west = 0, south = 0] = map.getCoordinateFromPixel([left - dotRadius, bottom + dotRadius]) ?? [];
  const [east = 0, north = 0] = map.getCoordinateFromPixel([right + dotRadius, top - dotRadius]) ?? [];
  return map.getAllLayers().some((l) => l instanceof VectorLayer && l.getVisible() &&
    l.getSource()?.forEachFeatureInExtent([west, south, east, north], (f: { getGeometry(): unknown }) => f.getGeometry() instanceof Point) === true);
}
