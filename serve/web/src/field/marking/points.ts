// The points of a line or an area that is being taken, and their sketch on the map.
import Feature from "ol/Feature";
import { LineString, MultiPoint } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import { fromLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, Stroke, Style } from "ol/style";
import type { LonLat } from "../../shared/coords/geodesic";
import { cachedByTheme, theme } from "../../shared/lib/theme";
import type { MapView } from "../../shared/map/mapview";
import type { Shape } from "./entry";

export interface Points {
  add(at: LonLat): void;
  back(): void;
  clear(): void;
  count(): number;
  /** The line through them, or the area; null while they are too few. */
  shape(area: boolean): Shape | null;
}

export function makePoints({ map }: MapView): Points {
  let all: LonLat[] = [];
  const [line, dots] = [new Feature(), new Feature()];
  const look = cachedByTheme(() => {
    const { ink, paper } = theme();
    return [[paper, 7], [ink, 3]].map(([color, width]) => new Style({
      stroke: new Stroke({ color: String(color), width: Number(width) }), image: new Circle({ radius: Number(width) + 2, fill: new Fill({ color: String(color) }) }),
    }));
  });
  map.addLayer(new VectorLayer({ source: new VectorSource({ features: [line, dots] }), style: () => look(""), zIndex: 42, updateWhileInteracting: true }));
  const draw = () => {
    const on = all.map((p) => fromLonLat(p));
    line.setGeometry(on.length > 1 ? new LineString(on) : undefined);
    dots.setGeometry(on.length > 0 ? new MultiPoint(on) : undefined);
  };
  const set = (next: LonLat[]) => {
    if (next.length === 0 && all.length === 0) return;
    all = next;
    draw();
  };
  return {
    add: (at) => set([...all, at]),
    back: () => set(all.slice(0, -1)),
    clear: () => set([]),
    count: () => all.length,
    shape(area) {
      const first = all[0];
      if (first === undefined || all.length < (area ? 3 : 2)) return null;
      return area ? { type: "Polygon", coordinates: [[...counterclockwise(all), counterclockwise(all)[0] as LonLat]] } : { type: "LineString", coordinates: all };
    },
  };
}

/** The corners of a ring in the order that RFC 7946 asks for. */
export function counterclockwise(ring: LonLat[]): LonLat[] {
  const twice = ring.reduce((sum, [x, y], i) => {
    const [u, v] = ring[(i + 1) % ring.length] ?? [0, 0];
    return sum + x * v - u * y;
  }, 0);
  return twice < 0 ? [...ring].reverse() : ring;
}
