// Places that are pointed at on the map: of a finding, of what a refresh found changed.
import Feature from "ol/Feature";
import GeoJSON from "ol/format/GeoJSON";
import { boundingExtent, getCenter, getHeight, getWidth } from "ol/extent";
import { Point } from "ol/geom";
import { fromExtent } from "ol/geom/Polygon";
import VectorLayer from "ol/layer/Vector";
import { transformExtent } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, Stroke, Style } from "ol/style";
import { theme } from "../../shared/lib/theme";
import type { Desk } from "../app/desk";

/** A box in degrees, as the server writes it; a point is one without size. */
export interface Box {
  West: number;
  South: number;
  East: number;
  North: number;
}

export interface Highlight {
  /** Marks a box and brings it into view. */
  box(at: Box): void;
  /** Marks the places of a GeoJSON document and brings them into view. */
  places(collection: object): void;
  clear(): void;
}

/** What is smaller is marked as a point, in meters of the map. */
const least = 0.5;
/** The least width that is shown, in meters of the map. */
const leastView = 30;

export function makeHighlight(desk: Desk): Highlight {
  const source = new VectorSource();
  const layer = new VectorLayer({ source, zIndex: 70, style: () => styles() });
  layer.set("name", "highlight");
  desk.map.addLayer(layer);
  const show = (features: Feature[]) => {
    source.clear();
    source.addFeatures(features);
    const extent = source.getExtent();
    if (extent === null || features.length === 0) return;
    const [x = 0, y = 0] = getCenter(extent);
    desk.fit(boundingExtent([[Math.min(extent[0] ?? x, x - leastView), Math.min(extent[1] ?? y, y - leastView)],
      [Math.max(extent[2] ?? x, x + leastView), Math.max(extent[3] ?? y, y + leastView)]]));
  };
  return {
    box(at) {
      const extent = transformExtent([at.West, at.South, at.East, at.North], "EPSG:4326", "EPSG:3857");
      const small = Math.max(getWidth(extent), getHeight(extent)) < least;
      show([new Feature(small ? new Point(getCenter(extent)) : fromExtent(extent))]);
    },
    places: (collection) => show(new GeoJSON().readFeatures(collection, { featureProjection: "EPSG:3857" })),
    clear: () => source.clear(),
  };
}

function styles(): Style[] {
  const { ink, paper, weight } = theme();
  return [[6, paper], [3, ink]].map(([width, color]) => {
    const stroke = new Stroke({ color: color as string, width: (width as number) * weight, lineDash: width === 3 ? [6, 6] : [] });
    return new Style({ stroke, image: new Circle({ radius: 15, stroke, fill: new Fill({ color: "#0000" }) }) });
  });
}
