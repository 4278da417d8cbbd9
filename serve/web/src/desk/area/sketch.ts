// The shapes on the map: outlines, routes with their width on the ground, circles.
import Feature from "ol/Feature";
import { MultiPoint, Point, Polygon, LineString } from "ol/geom";
import type Geometry from "ol/geom/Geometry";
import VectorLayer from "ol/layer/Vector";
import { fromLonLat, getPointResolution, toLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, RegularShape, Stroke, Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import { circleAround, type LonLat } from "../../shared/coords/geodesic";
import { cachedByTheme, theme } from "../../shared/lib/theme";
import { edgeStyles } from "../../shared/map/digarea";
import { lengthTyped } from "./ground";
import { linesOf, placeOf, type Shape, withLines } from "./shapes";

type Flat = number[];

export const toMap = (at: LonLat): Flat => fromLonLat(at);
export const toPlace = (at: Flat): LonLat => placeOf(toLonLat(at));

/** More corners than these have no marks of their own; the one near the pointer has. */
const mostMarks = 300;

/** The feature of a shape; `shape` is the shape that it shows. */
function featureOf(s: Shape): Feature<Geometry> {
  const f = new Feature<Geometry>(geometryOf(s));
  f.set("shape", s, true);
  return f;
}

export const shapeOf = (f: Feature<Geometry>): Shape => f.get("shape") as Shape;

function geometryOf(s: Shape): Geometry {
  if (s.kind === "circle") return circleGeometry(s.center ?? [0, 0], lengthTyped(s.radius ?? "") ?? 0);
  const lines = linesOf(s).map((l) => l.map(toMap));
  return s.kind === "route" ? new LineString(lines[0] ?? []) : new Polygon(lines);
}

export const circleGeometry = (center: LonLat, metres: number): Polygon => new Polygon([circleAround(center, metres, 120).map(toMap)]);

/** The shape that a feature shows now. Corners that were not moved keep their digits. */
export function shapeNow(f: Feature<Geometry>): Shape {
  const s = shapeOf(f);
  const before = linesOf(s);
  const g = f.getGeometry();
  const lines = g instanceof Polygon ? g.getCoordinates() : g instanceof LineString ? [g.getCoordinates()] : [];
  return withLines(s, lines.map((l, i) => lineNow(l, before[i] ?? [])));
}

/** A line's places: what of it is as before, from both ends on, is not computed anew. */
function lineNow(line: Flat[], before: LonLat[]): LonLat[] {
  const same = (at: Flat | undefined, p: LonLat | undefined) => {
    if (at === undefined || p === undefined) return false;
    const was = toMap(p);
    return was[0] === at[0] && was[1] === at[1];
  };
  const most = Math.min(line.length, before.length);
  let [first, last] = [0, 0];
  while (first < most && same(line[first], before[first])) first++;
  while (last < most - first && same(line[line.length - 1 - last], before[before.length - 1 - last])) last++;
  const kept = new Map(before.slice(first, before.length - last).map((p) => [String(toMap(p)), p]));
  const changed = line.slice(first, line.length - last).map((at) => kept.get(String(at)) ?? toPlace(at));
  return [...before.slice(0, first), ...changed, ...before.slice(before.length - last)];
}

const cornersIn = (g: Polygon | LineString): number => g.getFlatCoordinates().length / g.getStride();

/** The corners that a geometry has now, for measuring. */
export function cornersOf(g: Geometry): LonLat[][] {
  const lines = g instanceof Polygon ? g.getCoordinates() : g instanceof LineString ? [g.getCoordinates()] : [];
  return lines.map((l) => l.map((at) => toLonLat(at) as LonLat));
}

const fill = new Fill({ color: "rgba(255, 255, 255, 0.12)" });
const outline = cachedByTheme((chosen) => [...edgeStyles("area"), new Style({ fill }), ...(chosen === "chosen" ? [new Style({ stroke: new Stroke({ color: theme().ink, width: 2 }) })] : [])]);
const corner = cachedByTheme(() => new RegularShape({ points: 4, angle: Math.PI / 4, radius: 6, fill: new Fill({ color: theme().paper }), stroke: new Stroke({ color: theme().ink, width: 2 }) }));
const handle = cachedByTheme(() => [new Style({ image: new Circle({ radius: 7, fill: new Fill({ color: theme().paper }), stroke: new Stroke({ color: theme().ink, width: 3 }) }) })]);
const middle = cachedByTheme(() => [new Style({ stroke: new Stroke({ color: theme().paper, width: 5 }) }), new Style({ stroke: new Stroke({ color: theme().ink, width: 2.5 }) })]);
const seen = cachedByTheme(() => [
  new Style({ stroke: new Stroke({ color: theme().paper, width: 4 }) }), new Style({ stroke: new Stroke({ color: theme().ink, width: 1.5, lineDash: [1, 5] }) }),
  new Style({ image: new Circle({ radius: 4, fill: new Fill({ color: theme().paper }), stroke: new Stroke({ color: theme().ink, width: 1.5 }) }) }),
]);
const fault = cachedByTheme(() => [[theme().paper, 9], ["#a8121a", 5]].map(([color, width]) => new Style({ image: new Circle({ radius: 16, stroke: new Stroke({ color: String(color), width: Number(width) }) }) })));

/** The band of a route as wide as it is on the ground; `resolution` in map units a pixel. */
export function bandStyles(line: LineString, metres: number, resolution: number): Style[] {
  const at = line.getFirstCoordinate();
  const pixels = at.length === 0 ? 0 : metres / getPointResolution("EPSG:3857", resolution, at, "m");
  const band = (width: number, color: string) => new Style({ stroke: new Stroke({ color, width, lineCap: "round", lineJoin: "round" }) });
  return [band(pixels + 3, "rgba(0, 0, 0, 0.35)"), band(pixels, "rgba(255, 255, 255, 0.4)"), ...middle("")];
}

function styleOf(f: Feature<Geometry>, resolution: number, chosen: boolean): Style[] {
  const g = f.getGeometry();
  return g instanceof LineString ? bandStyles(g, lengthTyped(shapeOf(f).width ?? "") ?? 0, resolution) : outline(chosen ? "chosen" : "");
}

/** The marks of the corners of the chosen shape. */
function cornerStyles(f: Feature<Geometry>): Style[] {
  const g = f.getGeometry();
  if (shapeOf(f).kind === "circle" || !(g instanceof Polygon || g instanceof LineString) || cornersIn(g) > mostMarks) return [];
  return [new Style({ image: corner(""), geometry: new MultiPoint(g instanceof Polygon ? g.getCoordinates().flat() : g.getCoordinates()) })];
}

export interface Sketch {
  shapes: VectorSource<Feature<Geometry>>;
  /** lines and points of a dropped file, to snap to */
  reference: VectorSource<Feature<Geometry>>;
  /** the ends of a circle that can be moved */
  handles: VectorSource<Feature<Point>>;
  /** the ground with its margin */
  margin: VectorSource<Feature<Geometry>>;
  /** places where a shape cannot be used */
  faults: VectorSource<Feature<Geometry>>;
  layers: VectorLayer[];
  chosen: Feature<Geometry> | null;
}

export function makeSketch(): Sketch {
  const source = <G extends Geometry>() => new VectorSource<Feature<G>>();
  const layerOf = (s: VectorSource, name: string, zIndex: number, style: StyleFunction) => {
    const layer = new VectorLayer({ source: s, zIndex, style, updateWhileAnimating: true, updateWhileInteracting: true });
    layer.set("name", name);
    return layer;
  };
  const sketch: Sketch = { shapes: source(), reference: source(), handles: source(), margin: source(), faults: source(), layers: [], chosen: null };
  sketch.layers = [
    layerOf(sketch.reference, "reference", 38, () => seen("")),
    // under all that is recorded, so that every depth can be read over it; what is grabbed lies over the records
    layerOf(sketch.margin, "drawn-margin", 10.4, () => edgeStyles("margin")),
    layerOf(sketch.shapes, "drawn", 10.5, (f, r) => styleOf(f as Feature<Geometry>, r, f === sketch.chosen)),
    layerOf(sketch.shapes, "corners", 41, (f) => (f === sketch.chosen ? cornerStyles(f as Feature<Geometry>) : [])),
    layerOf(sketch.handles, "handles", 41, () => handle("")),
    layerOf(sketch.faults, "faults", 42, () => fault("")),
  ];
  return sketch;
}

/** Brings the map to the shapes of now; features of shapes that are the same stay. Gives what is to be chosen when the chosen one is no longer there: what took its place, or null. */
export function showShapes(sketch: Sketch, now: Shape[]): Feature<Geometry> | null | undefined {
  const before = sketch.shapes.getFeatures();
  const chosenAt = sketch.chosen === null ? -1 : before.indexOf(sketch.chosen);
  const chosen = sketch.chosen === null ? null : shapeOf(sketch.chosen);
  const wanted = new Set(now);
  const held = new Map(before.map((f) => [shapeOf(f), f]));
  for (const [s, f] of held) if (!wanted.has(s)) sketch.shapes.removeFeature(f);
  for (const s of wanted) {
    const f = held.get(s);
    if (f === undefined) sketch.shapes.addFeature(featureOf(s));
    else if (f === sketch.chosen && s.kind === "circle") f.setGeometry(geometryOf(s));
  }
  if (chosen === null || wanted.has(chosen)) return undefined;
  const next = now.find((s) => !held.has(s)) ?? null;
  return chosenAt < 0 || next === null ? null : sketch.shapes.getFeatures().find((o) => shapeOf(o) === next) ?? null;
}
