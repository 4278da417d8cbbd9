// The way back to the job for somebody who is off its ground.
import type Geometry from "ol/geom/Geometry";
import { fromLonLat, toLonLat } from "ol/proj";
import { windOf } from "./ground";
import { way, type LonLat } from "./positionground";

export interface Back {
  metres: number;
  /** degrees from north */
  bearing: number;
  /** "northeast" */
  direction: string;
}

/** The way from a place to the nearest edge of the job's ground; null on it, or when the ground is not told. */
export function wayBack(place: LonLat, ground: Geometry[]): Back | null {
  const at = fromLonLat(place);
  if (ground.length === 0 || ground.some((g) => g.intersectsCoordinate(at))) return null;
  let nearest: Back | null = null;
  for (const g of ground) {
    // Nearest on the map is nearest on the ground, but for the last percent.
    const { metres, bearing } = way(place, toLonLat(g.getClosestPoint(at)) as LonLat);
    if (nearest === null || metres < nearest.metres) nearest = { metres, bearing, direction: windOf(bearing) };
  }
  return nearest;
}
