// Where the depths of marks are written: beside their mark, over no other and over no reading of a record.
import type Feature from "ol/Feature";
import { Point } from "ol/geom";
import type VectorSource from "ol/source/Vector";
import type { MapView } from "../../shared/map/mapview";
import { besideDot, type Box, GridIndex, labelHeight, sides } from "../../shared/records/boxes";
import { depthWidth } from "../../shared/records/pointmarks";
import { theme } from "../../shared/lib/theme";
import type { IsFree } from "../position/marker";
import { frameRadius } from "./pictures";

/** From the middle of a mark to the left top corner of its label, in pixels. */
export type Labels = Map<Feature, { left: number; top: number }>;

/** How many marks of a view get one at most, so that a book of thousands stays quick. */
const mostLabels = 300;

/** Places the labels of a view anew; `textOf` gives "" for a mark without one. Gives how many found no room. */
export function placeLabels(labels: Labels, source: VectorSource, { clear, view }: MapView, textOf: (f: Feature) => string, isFree: IsFree): number {
  labels.clear();
  const resolution = view.getResolution();
  if (resolution === undefined) return 0;
  const inView = source.getFeaturesInExtent(view.calculateExtent()) as Feature[];
  const taken = new GridIndex<Box>();
  const { size } = theme();
  const unit = resolution * size;
  const spots = inView.map((f) => {
    const [x = 0, y = 0] = (f.getGeometry() as Point).getCoordinates();
    return { f, at: [x, y], x: x / unit, y: -y / unit };
  });
  const cross = clear()?.cross;
  /** How far a label is from its mark: beside it, or beside the cross that stands on it. */
  const reaches = ({ x, y }: { x: number; y: number }) => {
    if (cross === undefined) return [frameRadius];
    const [west = 0, south = 0, east = 0, north = 0] = cross.map((v) => v / unit);
    const away = Math.max(x - west, east - x, north + y, -y - south);
    return away < east - west ? [frameRadius, away] : [frameRadius];
  };
  for (const { x, y } of spots) add(taken, [x - frameRadius, y - frameRadius, x + frameRadius, y + frameRadius]);
  const withText = spots.map((one) => ({ ...one, text: textOf(one.f) })).filter(({ text }) => text !== "");
  for (const { f, at, x, y, text } of withText.slice(-mostLabels)) {
    const width = depthWidth(text);
    for (const [radius, side] of reaches({ x, y }).flatMap((r) => sides.map((s) => [r, s] as const))) {
      const { left, top } = besideDot({ x: 0, y: 0, radius }, width, side);
      const box: Box = [x + left, y + top, x + left + width, y + top + labelHeight];
      if (taken.some(box, (b) => overlaps(b, box))) continue;
      if (!isFree(at, [left * size, top * size, (left + width) * size, (top + labelHeight) * size], resolution)) continue;
      add(taken, box);
      labels.set(f, { left, top });
      break;
    }
  }
  return withText.length - labels.size;
}

const add = (grid: GridIndex<Box>, box: Box): void => grid.add(box, box);
const overlaps = (a: Box, b: Box): boolean => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
