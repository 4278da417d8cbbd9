// Drawing and changing shapes with the pointer. What the keyboard and typed places do comes through
// the same few calls: put a corner, take one back, finish.
import Collection from "ol/Collection";
import Feature from "ol/Feature";
import { altKeyOnly, primaryAction } from "ol/events/condition";
import { type Point, Point as PointGeometry } from "ol/geom";
import type Geometry from "ol/geom/Geometry";
import Draw from "ol/interaction/Draw";
import type Interaction from "ol/interaction/Interaction";
import Snap from "ol/interaction/Snap";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { direct, inverse, type LonLat } from "../../shared/coords/geodesic";
import { makeFollow } from "./follow";
import { lengthTyped } from "./ground";
import { makeModify } from "./modify";
import { draftStyle, drawnShape, liveOf } from "./newshape";
import { linesOf, withLines } from "./shapes";
import { shapeOf, toMap } from "./sketch";
import { reach, type ToolContext, type ToolKind } from "./toolcontext";

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
    const own = new Set(["ground", "wanted", "drawn-margin", "faults", "handles", "corners"]);
    for (const layer of map.getLayers().getArray()) {
      if (!(layer instanceof VectorLayer) || own.has(String(layer.get("name"))) || !layer.getVisible()) continue;
      const source = layer.getSource();
      if (source instanceof VectorSource && source.getFeatures().length <= mostSnapped) use(new Snap({ source, pixelTolerance: reach }));
    }
  }

  function startDraw(k: ToolKind): void {
    draw = new Draw({
      type: k === "polygon" ? "Polygon" : "LineString", stopClick: true, condition: primaryAction, snapTolerance: reach, ...(k === "circle" ? { maxPoints: 2 } : {}),
      style: ((f: Feature<Geometry>, resolution: number) => draftStyle(k, f, resolution, c.width())) as never,
    });
    draw.on("drawstart", (e) => {
      const g = e.feature.getGeometry() as Geometry;
      g.on("change", follow.of(() => liveOf(k, g)));
    });
    draw.on("drawend", (e) => {
      const g = e.feature.getGeometry() as Geometry;
      follow.end();
      put = [];
      const s = drawnShape(k, g, c.width(), c.units());
      if (s !== null) setTimeout(() => c.drawn(s)); // the interaction has to end first
    });
    draw.on("drawabort", () => {
      put = [];
      follow.end();
    });
    use(draw);
  }

  const modify = makeModify(c, chosen, follow);

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
