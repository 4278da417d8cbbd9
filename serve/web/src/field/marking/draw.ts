// Draws all marks on the map, and the lines through the readings of each run.
import Feature, { type FeatureLike } from "ol/Feature";
import { type Geometry, LineString, MultiLineString, Point, Polygon } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import { fromLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Fill, Stroke, Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import type { Session } from "../app/parts";
import { inverse, type LonLat } from "../../shared/coords/geodesic";
import type { Utility } from "../../shared/lib/api";
import { cachedByTheme, theme } from "../../shared/lib/theme";
import { depthText } from "../../shared/lib/units";
import { type Drawn, pictureMark } from "../../shared/records/marks";
import type { Added } from "../../shared/records/placed";
import { depthPicture } from "../../shared/records/pointmarks";
import { coloursOf, dashOf } from "../../shared/records/symbology";
import { hasDepth } from "./draft";
import { type Kind, kinds, type Shape } from "./entry";
import { type Mark, writtenAt } from "./fold";
import { type Labels, placeLabels } from "./labels";
import { frameRadius, markPicture, overlayOf, unwrittenMark } from "./pictures";
import { limits } from "./run";

/** After marks have changed, records are placed anew around them at most so often, in milliseconds. */
const placeEveryMs = 400;

interface DrawnMarks {
  /** Draws these marks as they are now; null for one that is gone. */
  set(marks: [id: string, mark: Mark | null][]): void;
  /** The features of marks at a pixel. */
  at(pixel: number[]): Feature[];
}

/** Makes the layers of marks; `utilityOf` gives the look of a utility by its code. */
export function makeDrawnMarks({ mapView, records, about }: Session, utilityOf: (code: string) => Utility): DrawnMarks {
  const [points, shapes, runs] = [new VectorSource(), new VectorSource(), new VectorSource()];
  const labels: Labels = new Map();
  const ofRun = new Map<string, Set<string>>(); // run → marks
  const all = new Map<string, Mark>();
  const layer = (source: VectorSource, zIndex: number, style: StyleFunction) => new VectorLayer({ source, zIndex, style, renderBuffer: 60 });
  const strokes = cachedByTheme((key) => strokeStyles(utilityOf, key));
  const lines = [layer(runs, 23, (f) => strokes(f.get("look") as string)), layer(shapes, 24, (f) => strokes(f.get("look") as string))];
  const looks = cachedByTheme((key) => {
    const [kind = "reading", code = "", here, hollow] = key.split("|");
    return pictureMark(kind === "test hole" ? "test hole" : "reading", markPicture(utilityOf(code), kind as Kind, here === "here", hollow === "hollow"), true);
  });
  const plates = cachedByTheme((): Drawn => ({}));
  // Frames lie under all that tells of records: a number or a flag of a record is never covered by one.
  const isOverDot = (f: FeatureLike, resolution: number) => records.places.hasDot((f.getGeometry() as Point).getCoordinates(), frameRadius, resolution);
  const frames = layer(points, 29.9, (f, resolution) => looks(`${f.get("look")}|${isOverDot(f, resolution) ? "hollow" : ""}`));
  const unwritten = cachedByTheme((key) => {
    const [kind, code = ""] = key.split("|");
    return pictureMark("depth", unwrittenMark(utilityOf(code), kind === "test hole"), false);
  });
  const depths = layer(points, 33, (f, resolution) => {
    const label = labels.get(f as Feature);
    const u = utilityOf(f.get("utility") as string);
    // What has a depth that is not written says so, as those of records do; in a hollow frame it is a record's.
    const kind = String(f.get("look")).split("|")[0] as Kind;
    if (label === undefined) return f.get("depth") === "" || !hasDepth(kind) || isOverDot(f, resolution) ? undefined : unwritten(`${kind}|${u.utility}`);
    const text = `${u.letter} ${f.get("depth")}`;
    return pictureMark("depth", depthPicture(overlayOf(u), text, label.left, label.top), true, {}, plates(`${u.utility} ${text} ${label.left} ${label.top}`));
  });
  for (const l of [...lines, frames, depths]) mapView.map.addLayer(l);

  const label = () => {
    const hidden = placeLabels(labels, points, mapView, (f) => {
      const u = utilityOf(f.get("utility") as string);
      return f.get("depth") === "" ? "" : `${u.letter} ${f.get("depth")}`;
    }, records.places.isFree);
    records.places.setAddedHidden(hidden);
    depths.changed();
  };
  let waiting = false;
  const labelSoon = () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      label();
    });
  };
  mapView.map.on("moveend", labelSoon);
  let placing = false;
  const placeSoon = () => {
    if (placing) return;
    placing = true;
    setTimeout(() => {
      placing = false;
      records.places.setAdded("marks", points.getFeatures().map((f): Added => {
        const [x = 0, y = 0] = (f.getGeometry() as Point).getFlatCoordinates();
        return [x, y, frameRadius];
      }));
      frames.changed();
      labelSoon();
    }, placeEveryMs);
  };

  const drawOne = (id: string, mark: Mark | null): Feature | null => {
    for (const s of [points, shapes]) {
      const old = s.getFeatureById(id);
      if (old !== null) s.removeFeature(old as Feature);
    }
    const p = mark?.feature.properties;
    const shape = mark === null || mark.struck !== null ? null : geometryOf(mark.feature.geometry);
    if (mark === null || p === undefined || shape === null) return null;
    const f = new Feature(shape);
    f.setId(id);
    const here = mark.leading.number === null;
    const depth = typeof p.depth_m === "number" ? depthText(p.depth_m, about.units) : "";
    const look = shape instanceof Point ? `${kinds.includes(p.kind) ? p.kind : "reading"}|${p.utility}|${here ? "here" : ""}` : `${p.utility}|${p.quality_level ?? ""}|${p.kind === "area" ? "face" : ""}`;
    f.setProperties({ mark: id, utility: p.utility, depth, look }, true);
    return f;
  };
  const drawRun = (line: string) => {
    for (const part of ["near", "far"]) {
      const old = runs.getFeatureById(`${line} ${part}`);
      if (old !== null) runs.removeFeature(old as Feature);
    }
    const readings = [...ofRun.get(line) ?? []].flatMap((id) => all.get(id) ?? [])
      .filter((m) => m.struck === null && m.feature.properties.line === line && m.feature.geometry?.type === "Point").sort(byFirst);
    const first = readings[0];
    if (first === undefined) return;
    const stretches: Record<"near" | "far", LonLat[][]> = { near: [], far: [] };
    for (let i = 1; i < readings.length; i++) {
      const [a, b] = [readings[i - 1], readings[i]].map((m) => m?.feature.geometry?.coordinates as LonLat) as [LonLat, LonLat];
      stretches[inverse(a, b).metres > limits.gap ? "far" : "near"].push([a, b]);
    }
    for (const part of ["near", "far"] as const) {
      if (stretches[part].length === 0) continue;
      const f = new Feature<Geometry>(new MultiLineString(stretches[part].map((pair) => pair.map((p) => fromLonLat(p)))));
      f.setId(`${line} ${part}`);
      f.set("look", `${first.feature.properties.utility}|${first.feature.properties.quality_level ?? ""}|${part}`, true);
      runs.addFeature(f);
    }
  };
  return {
    set(marks) {
      const fresh: Feature[] = [];
      const touched = new Set<string>();
      for (const [id, mark] of marks) {
        const before = all.get(id)?.feature.properties.line;
        if (mark === null) all.delete(id);
        else all.set(id, mark);
        for (const line of [before, mark?.feature.properties.line]) {
          if (typeof line !== "string" || line === "") continue;
          ofRun.set(line, (ofRun.get(line) ?? new Set()).add(id));
          touched.add(line);
        }
        const f = drawOne(id, mark);
        if (f !== null) fresh.push(f);
      }
      const isPoint = (f: Feature) => f.getGeometry() instanceof Point;
      points.addFeatures(fresh.filter(isPoint));
      shapes.addFeatures(fresh.filter((f) => !isPoint(f)));
      for (const line of touched) drawRun(line);
      placeSoon();
      labelSoon();
    },
    at: (pixel) => mapView.featuresAt(pixel, [depths, frames, ...lines]).filter((f) => f.get("mark") !== undefined),
  };
}

/** The order of marks by their first entries. */
const byFirst = (a: Mark, b: Mark): number => {
  const [one, other] = [a.history[0], b.history[0]];
  if (one === undefined || other === undefined) return 0;
  return writtenAt(one) - writtenAt(other);
};

/** The shape of a mark on the map; null for one that cannot be drawn. */
function geometryOf(shape: Shape | null): Geometry | null {
  try {
    const on = (p: LonLat) => {
      if (!Number.isFinite(p[0]) || !Number.isFinite(p[1])) throw new Error("no place");
      return fromLonLat(p);
    };
    switch (shape?.type) {
      case "Point": return new Point(on(shape.coordinates));
      case "LineString": return new LineString(shape.coordinates.map(on));
      case "Polygon": return new Polygon(shape.coordinates.map((r) => r.map(on)));
      default: return null;
    }
  } catch {
    return null;
  }
}

/** Strokes in the color of the utility on its own edge, with another one of ink around it that no record has; dotted across a gap. */
function strokeStyles(utilityOf: (code: string) => Utility, key: string): Style[] {
  const [code = "", level = "", part = ""] = key.split("|");
  const { colour, casing } = coloursOf(overlayOf(utilityOf(code)));
  const { ink, paper, weight } = theme();
  const lineDash = part === "far" ? [2, 10] : dashOf(level);
  const stroke = (color: string, width: number, dash: number[] = []) => new Style({ stroke: new Stroke({ color, width: width * weight, lineDash: dash, lineCap: "butt" }) });
  const fill = part === "face" ? [new Style({ fill: new Fill({ color: `${colour}40` }) })] : [];
  return part === "far" ? [stroke(casing, 5, lineDash), stroke(colour, 3, lineDash)] : [...fill, stroke(ink, 9), stroke(paper, 7), stroke(casing, 5), stroke(colour, 3, lineDash)];
}
