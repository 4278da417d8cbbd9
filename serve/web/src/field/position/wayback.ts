// The way back to the job from outside its ground.
import type Geometry from "ol/geom/Geometry";
import { fromLonLat, toLonLat } from "ol/proj";
import { compassName, inverse, type LonLat } from "../../shared/coords/geodesic";

export interface WayBack {
  metres: number;
  /** degrees from north */
  bearing: number;
  /** "northeast" */
  direction: string;
}

/** The way to the nearest edge of the job's ground; null inside it, or when the ground is unknown. */
export function wayBackTo(place: LonLat, ground: Geometry[]): WayBack | null {
  const at = fromLonLat(place);
  if (ground.length === 0 || ground.some((g) => g.intersectsCoordinate(at))) return null;
  let nearest: WayBack | null = null;
  for (const g of ground) {
    // Nearest on the map is nearest on the ground to within a percent.
    const { metres, bearing } = inverse(place, toLonLat(g.getClosestPoint(at)) as LonLat);
    if (nearest === null || metres < nearest.metres) nearest = { metres, bearing, direction: compassName(bearing) };
  }
  return nearest;
}
