// Drawing and changing shapes with the pointer. What the keyboard and typed places do comes through
// the same few calls: put a corner, take one back, finish.
import Collection from "ol/Collection";
import Feature from "ol/Feature";
import type OLMap from "ol/Map";
import { altKeyOnly, click, primaryAction } from "ol/events/condition";
import { LineString, type Point, Point as PointGeometry, Polygon } from "ol/geom";
import type Geometry from "ol/geom/Geometry";
import Draw from "ol/interaction/Draw";
import type Interaction from "ol/interaction/Interaction";
import Modify from "ol/interaction/Modify";
import Snap from "ol/interaction/Snap";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { Style } from "ol/style";
import { direct, inverse, type LonLat } from "../../shared/coords/geodesic";
import { edgeStyles } from "../../shared/map/digarea";
import type { Units } from "../../shared/lib/units";
import { makeFollow } from "./follow";
import { lengthTyped, typed } from "./ground";
import { linesOf, placeOf, type Shape, withLines } from "./shapes";
import { bandStyles, circleGeometry, cornersOf, shapeNow, shapeOf, type Sketch, toMap, toPlace } from "./sketch";

export type ToolKind = "polygon" | "route" | "circle";

/** What is under the pointer's work now, many times a second. */
export interface Live {
  kind: Shape["kind"];
  lines: LonLat[][];
  /** of a circle */
  metres?: number;
}

interface ToolContext {
  map: OLMap;
  sketch: Sketch;
  units(): Units;
  /** the width of a new route, as typed */
  width(): string;
  /** A shape was drawn to its end. */
  drawn(s: Shape): void;
  /** A shape was changed, at the end of a drag. */
  changed(before: Shape, after: Shape): void;
  /** What is drawn or dragged right now; null at its end. */
  live(l: Live | null): void;
  chosen(s: Shape | null): void;
}

export interface Tools {
  readonly kind: ToolKind | null;
  /** Begins to draw; null: shapes are chosen and changed. */
  start(kind: ToolKind | null): void;
  /** Takes all tools off the map. */
  stop(): void;
  choose(f: Feature<Geometry> | null): void;
  /** Puts the next corner. */
  put(at: LonLat): void;
  /** Takes the last corner back; false when there is none. */
  back(): boolean;
  finish(): void;
  /** The corner of the chosen shape nearest to a pixel, within reach; its place in linesOf. */
  cornerAt(pixel: number[]): [line: number, at: number] | null;
  moveCorner(corner: [number, number], to: LonLat): void;
}

/** How near a corner is hit or snapped to, in pixels. */
const reach = 12;
/** Sources with more features are not snapped to: it would be slow, and there is always one near. */
const mostSnapped = 3000;

export function makeTools(c: ToolContext): Tools {
  const { map, sketch } = c;
  const chosen = new Collection<Feature<Geometry>>();
  let kind: ToolKind | null = null;
  let used: Interaction[] = [];
  let draw: Draw | null = null;
  let put: LonLat[] = [];
  const follow = makeFollow((l) => c.live(l));

  const use = (i: Interaction) => {
    map.addInteraction(i);
    used.push(i);
  };
  const clear = () => {
    for (const i of used) map.removeInteraction(i);
    used = [];
    draw = null;
    put = [];
    follow.end();
  };
  function snap(): void {
    const own = new Set(["ground", "wanted", "drawn-margin", "faults", "handles"]);
    for (const layer of map.getLayers().getArray()) {
      if (!(layer instanceof VectorLayer) || own.has(String(layer.get("name"))) || !layer.getVisible()) continue;
      const source = layer.getSource();
      if (source instanceof VectorSource && source.getFeatures().length <= mostSnapped) use(new Snap({ source, pixelTolerance: reach }));
    }
  }

  function startDraw(k: ToolKind): void {
    draw = new Draw({
      type: k === "polygon" ? "Polygon" : "LineString", stopClick: true, condition: primaryAction, snapTolerance: reach, ...(k === "circle" ? { maxPoints: 2 } : {}),
      style: ((f: Feature<Geometry>, resolution: number) => draftStyle(k, f, resolution)) as never,
    });
    draw.on("drawstart", (e) => {
      const g = e.feature.getGeometry() as Geometry;
      g.on("change", follow.of(() => liveOf(k, g)));
    });
    draw.on("drawend", (e) => {
      const g = e.feature.getGeometry() as Geometry;
      follow.end();
      put = [];
      const s = drawnShape(k, g);
      if (s !== null) setTimeout(() => c.drawn(s)); // the interaction has to end first
    });
    draw.on("drawabort", () => {
      put = [];
      follow.end();
    });
    use(draw);
  }

  function draftStyle(k: ToolKind, f: Feature<Geometry>, resolution: number): Style[] {
    const g = f.getGeometry();
    if (k === "route" && g instanceof LineString) return bandStyles(g, lengthTyped(c.width()) ?? 0, resolution);
    if (k === "circle" && g instanceof LineString) {
      const [a, b] = g.getCoordinates();
      if (a === undefined || b === undefined) return [];
      const geometry = circleGeometry(toPlace(a), inverse(toPlace(a), toPlace(b)).metres);
      return edgeStyles("area").map((s) => new Style({ stroke: s.getStroke() as never, geometry }));
    }
    return g instanceof Polygon || g instanceof LineString ? edgeStyles("area") : [];
  }

  function drawnShape(k: ToolKind, g: Geometry): Shape | null {
    if (g instanceof Polygon) {
      const rings = g.getCoordinates().map((r) => r.map(toPlace));
      return (rings[0]?.length ?? 0) < 4 ? null : { kind: "polygon", rings };
    }
    const line = (g as LineString).getCoordinates().map(toPlace);
    const [a, b] = line;
    if (a === undefined || b === undefined) return null;
    if (k === "route") return { kind: "route", line, width: c.width() };
    const metres = inverse(a, b).metres;
    return metres > 0 ? { kind: "circle", center: a, radius: typed(metres, c.units()) } : null;
  }

  /** There is one: each listens to the chosen features for as long as it lives. */
  const modify = makeModify();

  function makeModify(): Modify {
    const modify = new Modify({ features: chosen, pixelTolerance: reach, deleteCondition: (e) => altKeyOnly(e) && click(e) });
    let off: (() => void)[] = [];
    modify.on("modifystart", (e) => {
      off = e.features.getArray().map((f) => {
        const g = f.getGeometry() as Geometry;
        const changed = follow.of(() => (f.get("handle") === undefined ? { kind: shapeOf(f as never).kind, lines: cornersOf(g) } : circleLive(f as Feature<Point>)));
        g.on("change", changed);
        return () => g.un("change", changed);
      });
    });
    modify.on("modifyend", () => {
      off.forEach((f) => f());
      const f = sketch.chosen;
      follow.end();
      if (f === null) return;
      const before = shapeOf(f);
      const after = before.kind === "circle" ? circleNow(before) : shapeNow(f);
      if (before.kind !== "circle") f.set("shape", after, true); // it is shown already: nothing is drawn or indexed anew
      setTimeout(() => c.changed(before, after));
    });
    return modify;
  }

  const handleAt = (name: string): LonLat => {
    const h = sketch.handles.getFeatures().find((f) => f.get("handle") === name);
    return toPlace(h?.getGeometry()?.getCoordinates() ?? [0, 0]);
  };

  /** A circle as its two handles say; the one that moves last decides. */
  function circleNow(s: Shape): Shape {
    const [center, rim] = [handleAt("center"), handleAt("rim")];
    const moved = s.center === undefined || String(placeOf(s.center)) !== String(center);
    if (moved) return { ...s, center };
    return { ...s, radius: typed(inverse(center, rim).metres, c.units()) };
  }

  function circleLive(h: Feature<Point>): Live {
    const f = sketch.chosen as Feature<Geometry>;
    const s = circleNow(shapeOf(f));
    const metres = lengthTyped(s.radius ?? "") ?? 0;
    f.setGeometry(circleGeometry(s.center as LonLat, metres));
    if (h.get("handle") === "center") rimHandle()?.setGeometry(new PointGeometry(toMap(direct(s.center as LonLat, 90, metres).at)));
    return { kind: "circle", lines: [], metres };
  }
  const rimHandle = () => sketch.handles.getFeatures().find((f) => f.get("handle") === "rim");

  function choose(f: Feature<Geometry> | null): void {
    const before = sketch.chosen;
    sketch.chosen = f;
    before?.changed();
    f?.changed();
    chosen.clear();
    sketch.handles.clear();
    if (f !== null && shapeOf(f).kind === "circle") {
      const s = shapeOf(f);
      const rim = direct(s.center as LonLat, 90, lengthTyped(s.radius ?? "") ?? 0).at;
      for (const [name, at] of [["center", s.center as LonLat], ["rim", rim]] as const) {
        const h = new Feature<Point>(new PointGeometry(toMap(at)));
        h.set("handle", name);
        sketch.handles.addFeature(h);
        chosen.push(h as never);
      }
    } else if (f !== null) {
      chosen.push(f);
    }
    c.chosen(f === null ? null : shapeOf(f));
  }

  map.on("singleclick", (e) => {
    if (used.length === 0 || kind !== null || altKeyOnly(e)) return;
    const hit = map.forEachFeatureAtPixel(e.pixel, (f) => f as Feature<Geometry>, { layerFilter: (l) => l.get("name") === "drawn", hitTolerance: 6 });
    choose(hit ?? null);
  });

  const tools: Tools = {
    get kind() {
      return kind;
    },
    start(k) {
      clear();
      kind = k;
      if (k === null) use(modify);
      else {
        choose(null);
        startDraw(k);
      }
      snap();
    },
    stop() {
      choose(null);
      clear();
      kind = null;
    },
    choose,
    put(at) {
      if (draw === null || kind === null) return;
      const first = put[0];
      const near = (a: LonLat) => inverse(a, at).metres < 0.01;
      const last = put[put.length - 1];
      if (last !== undefined && (near(last) || kind === "polygon" && put.length > 2 && first !== undefined && near(first))) return tools.finish();
      put.push(at);
      draw.appendCoordinates([toMap(at)]);
      if (kind === "circle" && put.length === 2) tools.finish();
    },
    back() {
      if (draw === null || put.length === 0 && used.length === 0) return false;
      put.pop();
      draw.removeLastPoint();
      return true;
    },
    finish: () => draw?.finishDrawing(),
    cornerAt(pixel) {
      const f = sketch.chosen;
      if (f === null || shapeOf(f).kind === "circle") return null;
      let [best, nearest]: [[number, number] | null, number] = [null, reach];
      linesOf(shapeOf(f)).forEach((line, l) => line.forEach((p, i) => {
        const at = map.getPixelFromCoordinate(toMap(p));
        const d = Math.hypot((at[0] ?? 0) - (pixel[0] ?? 0), (at[1] ?? 0) - (pixel[1] ?? 0));
        if (d <= nearest) [best, nearest] = [[l, i], d];
      }));
      return best;
    },
    moveCorner([l, i], to) {
      const s = sketch.chosen === null ? null : shapeOf(sketch.chosen);
      if (s === null) return;
      const closed = s.kind !== "route";
      const lines = linesOf(s).map((line, k) => line.map((p, j) => {
        const end = closed && (i === 0 || i === line.length - 1) && (j === 0 || j === line.length - 1);
        return k === l && (j === i || end) ? to : p;
      }));
      c.changed(s, withLines(s, lines));
    },
  };
  return tools;
}

function liveOf(kind: ToolKind, g: Geometry): Live {
  const lines = cornersOf(g);
  const [a, b] = lines[0] ?? [];
  if (kind !== "circle") return { kind: kind === "route" ? "route" : "polygon", lines };
  return { kind: "circle", lines: [], metres: a !== undefined && b !== undefined ? inverse(a, b).metres : 0 };
}
