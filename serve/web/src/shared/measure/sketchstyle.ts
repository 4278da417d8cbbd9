// The style of what measuring tools leave on the map: ink on paper, which are no utility's colors.
import type Feature from "ol/Feature";
import { createEmpty, extend, isEmpty } from "ol/extent";
import { LineString, Point } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, RegularShape, Stroke, Style, Text } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import { cachedByTheme, theme } from "../lib/theme";
import type { MapView } from "../map/mapview";
import type { Added } from "../records/placed";
import { font } from "../records/symbology";

/** How far the words of a point stand below it, in pixels. */
const wordsBelow = 26;

/** The space around a sketch that is shown, in pixels. */
const room = 36;

interface Sketch {
  layer: VectorLayer;
  draw(features: Feature[]): void;
  /** Moves the map, and zooms it out if need be, so that all marks are in the free map. */
  show(mapView: MapView): void;
}

/** A layer of sketched features. `added` hears what of them no depth of a record may stand under. */
export function makeSketchLayer(added: (all: Added[]) => void): Sketch {
  const source = new VectorSource();
  const layer = new VectorLayer({ source, style: sketchStyle(), zIndex: 39, updateWhileAnimating: true, updateWhileInteracting: true });
  return {
    layer,
    draw(features) {
      const none = source.isEmpty() && features.length === 0;
      source.clear(true);
      source.addFeatures(features);
      if (!none) added(features.flatMap(roomOf));
    },
    show({ view, look }) {
      look();
      const extent = createEmpty();
      for (const f of source.getFeatures()) if (["mark", "target"].includes(String(f.get("kind")))) extend(extent, f.getGeometry()?.getExtent() ?? extent);
      const resolution = view.getResolution();
      if (isEmpty(extent) || resolution === undefined) return;
      view.fit(extent, { padding: [room, room, room, room], minResolution: resolution });
    },
  };
}

/** The room of a sketched mark and of its words, in pixels. */
function roomOf(f: Feature): Added[] {
  const [g, kind, text] = [f.getGeometry(), f.get("kind") as string, f.get("text") as string];
  const [x = 0, y = 0] = g instanceof LineString ? g.getFlatMidpoint() : g instanceof Point ? g.getFlatCoordinates() : [];
  const aside = 8 + text.length * 4.6;
  if (g instanceof LineString) return text === "" ? [] : [[x, y, 14, aside]];
  if (!(g instanceof Point)) return [];
  return [[x, y, kind === "foot" ? 8 : 15], ...(kind === "mark" || text === "" ? [] : [[x, y, 14, aside, wordsBelow] satisfies Added])];
}

function sketchStyle(): StyleFunction {
  const shapes = cachedByTheme(shapesOf);
  const labels = cachedByTheme(labelOf);
  return (f) => {
    const [kind, text] = [String(f.get("kind")), String(f.get("text"))];
    return text === "" ? shapes(kind) : [...shapes(kind), labels(`${kind} ${text}`)];
  };
}

const cased = (width: number, lineDash?: number[]): Style[] => {
  const { ink, paper, weight } = theme();
  const dash = lineDash === undefined ? {} : { lineDash };
  return [
    new Style({ stroke: new Stroke({ color: paper, width: (width + 4) * weight }) }),
    new Style({ stroke: new Stroke({ color: ink, width: width * weight, ...dash }) }),
  ];
};

function shapesOf(kind: string): Style[] {
  const { ink, paper } = theme();
  const [inside, edge] = [new Fill({ color: ink }), new Stroke({ color: paper, width: 3 })];
  switch (kind) {
    case "tape": return cased(2.5);
    case "path": return cased(4, [14, 8]);
    case "arc": return cased(1.5);
    case "ellipse": return cased(1.5, [4, 4]);
    case "mark": return [new Style({ image: new RegularShape({ points: 4, angle: Math.PI / 4, radius: 17, fill: inside, stroke: edge }) })];
    case "target": return [[paper, 8], [ink, 4]].map(([color, width]) =>
      new Style({ image: new Circle({ radius: 13, stroke: new Stroke({ color: String(color), width: Number(width) }) }) }));
    case "other": return [[paper, 6], [ink, 2.5]].map(([color, width]) =>
      new Style({ image: new RegularShape({ points: 4, radius: 11, radius2: 0, angle: Math.PI / 4, stroke: new Stroke({ color: String(color), width: Number(width) }) }) }));
    case "foot": return [new Style({ image: new Circle({ radius: 6, fill: inside, stroke: edge }) })];
    default: return [];
  }
}

/** A mark holds its text, along lines and beside points it stands on paper. */
function labelOf(key: string): Style {
  const { ink, paper, weight } = theme();
  const [kind = ""] = key.split(" ", 1);
  const text = key.slice(kind.length + 1);
  const size = weight > 1 ? 18 : 15;
  if (kind === "mark") return new Style({ text: new Text({ text, font: `700 ${size}px ${font}`, fill: new Fill({ color: paper }), overflow: true }) });
  return new Style({
    text: new Text({
      text, font: `700 ${size}px ${font}`, fill: new Fill({ color: ink }), overflow: true, offsetY: kind === "tape" ? 0 : wordsBelow,
      backgroundFill: new Fill({ color: paper }), backgroundStroke: new Stroke({ color: ink, width: 1 }), padding: [3, 5, 2, 6],
    }),
  });
}
