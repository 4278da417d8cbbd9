// The dots of a tile in bundles, each drawn in one pass. Their size is decided for each tile.
import Feature, { type FeatureLike } from "ol/Feature";
import { MultiPoint, Point } from "ol/geom";
import { sizesOf } from "./dots";
import { mergedWith } from "./record";
import { isTestHole } from "./testhole";

/** The properties of a bundle: the radius of its dots, and whether each stands for several points. */
export const radiusKey = "radius";
export const mergedKey = "merged";

const radii = new WeakMap<FeatureLike, number>();

/** The radius of the dot of a feature of a tile. */
export const tiledRadius = (f: FeatureLike): number => radii.get(f) ?? 0;

/** The bundles of a tile's points; `resolution` is the coarsest at which the tile is drawn. */
export function bundleDots(all: Feature[], resolution: number): Feature[] {
  const points = all.flatMap((f) => {
    const g = f.getGeometry();
    return g instanceof Point ? [{ f, at: g.getFlatCoordinates() }] : [];
  });
  // The server has thinned them, so none gives way here.
  const sizes = sizesOf(points.map(({ at: [x = 0, y = 0] }, record) => ({ x: x / resolution, y: y / resolution, record })));
  const bundles = new Map<string, { radius: number; merged: boolean; at: number[] }>();
  points.forEach(({ f, at }, i) => {
    const radius = sizes[i]?.radius ?? 0;
    radii.set(f, radius);
    if (isTestHole(f) && mergedWith(f) === 0) return; // has a mark of its own
    const merged = mergedWith(f) > 0;
    const key = `${radius} ${merged}`;
    let bundle = bundles.get(key);
    if (bundle === undefined) bundles.set(key, (bundle = { radius, merged, at: [] }));
    bundle.at.push(...at);
  });
  return [...bundles.values()].map((b) => new Feature({ geometry: new MultiPoint(b.at, "XY"), [radiusKey]: b.radius, [mergedKey]: b.merged }));
}
