// Places that are pointed at on the map: of a finding, of what a refresh found changed.
import Feature from "ol/Feature";
import GeoJSON from "ol/format/GeoJSON";
import { boundingExtent, buffer, getCenter, getHeight, getWidth } from "ol/extent";
import { MultiLineString, Point } from "ol/geom";
import type Geometry from "ol/geom/Geometry";
import { fromExtent } from "ol/geom/Polygon";
import VectorLayer from "ol/layer/Vector";
import { transformExtent } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, Stroke, Style } from "ol/style";
import { theme } from "../../shared/lib/theme";
import { opened } from "../app/cell";
import type { Desk } from "../app/desk";

/** A box in degrees, as the server writes it; a point is one without size. */
export interface Box {
  West: number;
  South: number;
  East: number;
  North: number;
}

export interface Highlight {
  /** Marks a box and brings it into view; the one that is marked is marked no longer. */
  box(at: Box): void;
  /** Marks the places of a GeoJSON document and brings them into view. */
  places(collection: object): void;
  clear(): void;
}

/** What is smaller is marked as a point, in meters of the map. */
const least = 0.5;
/** The least width that is shown, in meters of the map. */
const leastView = 30;
/** The pixels between a place and the corners round it, and the longest arm of a corner. */
const [away, longestArm] = [10, 22];

export function makeHighlight(desk: Desk): Highlight {
  const source = new VectorSource();
  // A ring leaves what it shows open; corners lie round it and under the records.
  for (const [zIndex, point] of [[11, false], [70, true]] as const) {
    const layer = new VectorLayer({ source, zIndex, style: (f, resolution) => (point === f.getGeometry() instanceof Point ? styles(f.getGeometry() as Geometry, resolution) : []) });
    layer.set("name", "highlight");
    desk.map.addLayer(layer);
  }
  let marked = "";
  const clear = () => {
    marked = "";
    source.clear();
  };
  opened.on(clear);
  document.addEventListener("keydown", (e) => e.key === "Escape" && clear());
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
      const now = JSON.stringify(at);
      const again = now === marked;
      clear();
      if (again) return;
      marked = now;
      const extent = transformExtent([at.West, at.South, at.East, at.North], "EPSG:4326", "EPSG:3857");
      const small = Math.max(getWidth(extent), getHeight(extent)) < least;
      show([new Feature(small ? new Point(getCenter(extent)) : fromExtent(extent))]);
    },
    places(collection) {
      clear();
      show(new GeoJSON().readFeatures(collection, { featureProjection: "EPSG:3857" }));
    },
    clear,
  };
}

/** The four corners round a place, so many pixels away from it: no line that could be taken for an edge of the area. */
function cornersRound(place: Geometry, resolution: number): MultiLineString {
  const [west = 0, south = 0, east = 0, north = 0] = buffer(place.getExtent(), away * resolution);
  const arm = Math.min(longestArm * resolution, (east - west) / 3, (north - south) / 3);
  const at = (x: number, y: number, toX: number, toY: number) => [[x, y + toY * arm], [x, y], [x + toX * arm, y]];
  return new MultiLineString([at(west, south, 1, 1), at(east, south, -1, 1), at(east, north, -1, -1), at(west, north, 1, -1)]);
}

function styles(place: Geometry, resolution: number): Style[] {
  const { ink, paper, weight } = theme();
  const geometry = place instanceof Point ? place : cornersRound(place, resolution);
  return [[6, paper], [3, ink]].map(([width, color]) => {
    const stroke = new Stroke({ color: color as string, width: (width as number) * weight });
    return new Style({ geometry, stroke, image: new Circle({ radius: 15, stroke, fill: new Fill({ color: "#0000" }) }) });
  });
}
