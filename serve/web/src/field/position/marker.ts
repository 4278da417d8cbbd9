// The position marker on the map: a dot, and a circle for its error.
import Feature from "ol/Feature";
import { Point, Polygon } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import { fromLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Circle as CircleStyle, Fill, RegularShape, Stroke, Style, Text } from "ol/style";
import { circleAround } from "../../shared/coords/geodesic";
import { font } from "../../shared/records/symbology";
import { ageOf, agoText, doubts, type Fix, freshness, type Freshness, markerText } from "./fix";

/** Black and white only: the colors of utilities have a meaning. */
const black = (strength: number) => `rgba(0, 0, 0, ${strength})`;
const white = (strength: number) => `rgba(255, 255, 255, ${strength})`;
/** A larger circle, in meters of radius, is of no use on the map of a job. */
const maxCircleMetres = 100_000;

interface Marker {
  layer: VectorLayer;
  show(fix: Fix | null, trouble: string, now: number): void;
}

export function makeMarker(): Marker {
  const point = new Feature<Point>();
  const circle = new Feature<Polygon>();
  const source = new VectorSource<Feature>({ features: [circle, point] });
  const layer = new VectorLayer({ source, zIndex: 40, updateWhileAnimating: true, updateWhileInteracting: true });
  let drawn = "";
  return {
    layer,
    show(fix, trouble, now) {
      if (fix === null) {
        drawn = "";
        point.setGeometry(undefined);
        circle.setGeometry(undefined);
        return;
      }
      const state = freshness(fix, trouble, now);
      const label = labelOf(fix, state, now);
      const key = [fix.lon, fix.lat, fix.error, fix.kind, fix.live, fix.recorded, fix.grounds, state, label].join();
      if (key === drawn) return;
      drawn = key;
      point.setGeometry(new Point(fromLonLat([fix.lon, fix.lat])));
      point.setStyle(dotStyles(fix, state, label));
      // The error of an old fix does not include how far the user has walked since.
      const round = fix.error > 0 && fix.error < maxCircleMetres && state !== "old";
      circle.setGeometry(round ? new Polygon([circleAround([fix.lon, fix.lat], fix.error).map((p) => fromLonLat(p))]) : undefined);
      circle.setStyle(circleStyles(fix, state));
    },
  };
}

function labelOf(s: Fix, state: Freshness, now: number): string {
  const words = [markerText(s), ...doubts(s)];
  if (state === "old") words.push(agoText(ageOf(s, now)));
  return words.filter((w) => w !== "").join(", ");
}

// A live fix is a disc with arms, unlike any reading or crossing. One that is recorded,
// simulated, typed in or estimated is a hollow diamond.
function dotStyles(s: Fix, state: Freshness, label: string): Style[] {
  const strength = { fresh: 1, fading: 0.6, old: 0.8 }[state];
  const lineDash = state === "old" ? [5, 4] : [];
  const casing = new Stroke({ color: black(strength), width: 7, lineDash });
  const edge = new Stroke({ color: white(strength), width: 3.5, lineDash });
  const nothing = new Fill({ color: white(0) });
  const inside = new Fill({ color: { fresh: black(1), fading: black(0.25), old: white(0) }[state] });
  const shape = (fill: Fill, stroke: Stroke) => (s.live
    ? new CircleStyle({ radius: 9, fill, stroke })
    : new RegularShape({ points: 4, radius: 13, fill: nothing, stroke }));
  const arms = (stroke: Stroke) => new Style({ image: new RegularShape({ points: 4, radius: 21, radius2: 0, stroke }) });
  const styles: Style[] = [];
  if (s.live && state !== "old") styles.push(arms(casing), arms(edge));
  styles.push(new Style({ image: shape(nothing, casing) }), new Style({ image: shape(inside, edge) }));
  // Only a fixed RTK solution has a dot at its center.
  if (s.live && s.kind === "rtk-fixed" && state === "fresh") {
    styles.push(new Style({ image: new CircleStyle({ radius: 3, fill: new Fill({ color: white(1) }) }) }));
  }
  if (label !== "") {
    styles.push(new Style({
      text: new Text({
        text: label, font: `800 13px ${font}`, offsetY: 26, fill: new Fill({ color: white(1) }),
        backgroundFill: new Fill({ color: black(0.85) }), padding: [2, 5, 1, 5],
      }),
    }));
  }
  return styles;
}

// Dashed for a rough estimate. No fill: depths inside must stay legible.
function circleStyles(s: Fix, state: Freshness): Style[] {
  const strength = state === "fresh" ? 1 : 0.5;
  const lineDash = s.grounds === "hdop" ? [9, 7] : [];
  return [
    new Style({ stroke: new Stroke({ color: black(0.75 * strength), width: 5, lineDash }) }),
    new Style({ stroke: new Stroke({ color: white(strength), width: 2.5, lineDash }) }),
  ];
}
