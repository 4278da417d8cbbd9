// Measuring lengths and areas on the map, by the cross.
import Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import { type Geometry, LineString, MultiPoint, Polygon } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import { fromLonLat, toLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Fill, RegularShape, Stroke, Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import type { LonLat } from "../coords/geodesic";
import { cachedByTheme, theme } from "../lib/theme";
import type { Units } from "../lib/units";
import { say } from "../lib/words";
import type { BaseMap } from "../map/basemap";
import type { MapView } from "../map/mapview";
import { makeCrossBar } from "./crossbar";
import { type Crosshair, type CrossTool, pixelOf } from "./crosshair";
import { measure, type MeasureKind, type MeasurePoint } from "./measurement";

interface MeasureTool {
  start(kind: MeasureKind): void;
}

/** Makes the tool, in the units of the job. */
export function makeMeasureTool(mapView: MapView, base: BaseMap, crosshair: Crosshair, units: Units): MeasureTool {
  const drawing = makeDrawing();
  drawing.layers.forEach((l) => mapView.map.addLayer(l));
  let on = false;
  let kind: MeasureKind = "length";
  let marks: MeasurePoint[] = [];
  const here = (): MeasurePoint => ({ at: toLonLat(mapView.view.getCenter() ?? [0, 0]) as LonLat, pixel: pixelOf(mapView, base) });
  const moved = () => {
    if (!on) return;
    const cross = here();
    bar.show(measure(kind, marks, cross, units));
    drawing.reach(fromLonLat(cross.at));
  };
  const tell = () => {
    bar.button("measure-undo").disabled = marks.length === 0;
    bar.button("measure-kind").textContent = kind === "length" ? say("measure.as_area") : say("measure.as_length");
    drawing.fix(marks.map((m) => fromLonLat(m.at)), kind);
    moved();
    bar.announce();
  };
  const tool: CrossTool = {
    get bar() { return bar.box; },
    take() {
      marks.push(here());
      tell();
    },
    back() {
      marks.pop();
      tell();
    },
    stopped() {
      on = false;
      marks = [];
      drawing.fix([], kind);
    },
  };
  const bar = makeCrossBar("measure", say("measure.title"), [
    { id: "measure-done", text: say("measure.done"), press: crosshair.end },
    { id: "measure-kind", text: say("measure.as_area"), press: () => {
      kind = kind === "length" ? "area" : "length";
      tell();
    } },
    { id: "measure-undo", text: say("measure.undo"), press: tool.back },
    { id: "measure-add", text: say("measure.add"), press: tool.take, takes: true },
  ]);
  mapView.view.on("propertychange", moved);
  return {
    start(as) {
      crosshair.begin(tool);
      kind = as;
      on = true;
      tell();
    },
  };
}

interface Drawing {
  layers: VectorLayer[];
  /** Draws the marks; the line through them ends at the cross. */
  fix(marks: Coordinate[], kind: MeasureKind): void;
  /** Moves the end at the cross, the only thing that changes with the view. */
  reach(cross: Coordinate): void;
}

/** Over all lines, and under what is written: no depth and no number of a crossing is ever struck through. */
const underLabels = 29.5;

function makeDrawing(): Drawing {
  const dots = new Feature<Geometry>();
  const path = new Feature<Geometry>();
  const layer = (feature: Feature, zIndex: number) => new VectorLayer({
    source: new VectorSource({ features: [feature] }), style: measureStyle(), zIndex, updateWhileAnimating: true, updateWhileInteracting: true,
  });
  let fixed: Coordinate[] = [];
  let area = false;
  return {
    layers: [layer(path, underLabels), layer(dots, 40)],
    fix(marks, kind) {
      [fixed, area] = [marks, kind === "area"];
      dots.setGeometry(fixed.length > 0 ? new MultiPoint(fixed) : undefined);
      path.setGeometry(undefined);
    },
    reach(cross) {
      const line = [...fixed, cross];
      const shape = path.getGeometry();
      if (line.length < 2) return path.setGeometry(undefined);
      if (area && line.length > 2) {
        const ring = [[...line, line[0] as Coordinate]];
        return shape instanceof Polygon ? shape.setCoordinates(ring) : path.setGeometry(new Polygon(ring));
      }
      return shape instanceof LineString ? shape.setCoordinates(line) : path.setGeometry(new LineString(line));
    },
  };
}

/** Ink and paper, which are no utility's colors. */
function measureStyle(): StyleFunction {
  const lit = cachedByTheme(() => {
    const { ink, paper } = theme();
    return [
      new Style({ stroke: new Stroke({ color: paper, width: 7 }) }),
      new Style({
        stroke: new Stroke({ color: ink, width: 3 }), // no fill, which would dim the records below
        image: new RegularShape({ points: 4, angle: Math.PI / 4, radius: 10, fill: new Fill({ color: ink }), stroke: new Stroke({ color: paper, width: 3 }) }),
      }),
    ];
  });
  return () => lit("");
}
