// Measuring on the map: a cross at its center, and a button to mark the position under it, so
// that one hand is enough and no precise tap is needed.
import Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import { LineString, Point, Polygon } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import { fromLonLat, getPointResolution, toLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Fill, RegularShape, Stroke, Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import type { LonLat } from "../coords/geodesic";
import { byId, make, makeButton } from "../lib/dom";
import { cachedByTheme, theme } from "../lib/theme";
import type { Units } from "../lib/units";
import { keepAwake } from "../lib/wakelock";
import { say } from "../lib/words";
import type { BaseMap } from "../map/basemap";
import type { MapView } from "../map/mapview";
import { measure, type MeasureKind, type MeasurePoint } from "./measurement";
import "./measuretool.css";

interface MeasureTool {
  start(kind: MeasureKind): void;
  stop(): void;
}

type MeasureBar = ReturnType<typeof makeBar>;

function button(id: string, text: string, press: () => void): HTMLButtonElement {
  return Object.assign(makeButton([text], press), { id });
}

function makeBar(does: { add(): void; undo(): void; turn(): void; stop(): void }) {
  const bar = {
    box: make("section", ""), main: make("b", ""), more: make("span", ""), limit: make("small", ""),
    announcement: make("p", "unseen"), // for screen readers, set only after an action
    kind: button("measure-kind", say("measure.as_area"), does.turn), undo: button("measure-undo", say("measure.undo"), does.undo),
  };
  bar.box.id = "measure";
  bar.box.hidden = true;
  bar.box.setAttribute("aria-label", say("measure.title"));
  bar.announcement.setAttribute("role", "status");
  bar.box.append(make("p", "", bar.main, bar.more, bar.limit), bar.announcement,
    make("div", "", button("measure-done", say("measure.done"), does.stop), bar.kind, bar.undo, button("measure-add", say("measure.add"), does.add)));
  byId("tool").append(bar.box);
  const cross = make("div", "");
  cross.id = "cross";
  byId("stage").append(cross);
  return bar;
}

/** Makes the tool, in the units of the job. */
export function makeMeasureTool(mapView: MapView, base: BaseMap, units: Units): MeasureTool {
  const source = new VectorSource();
  mapView.map.addLayer(new VectorLayer({ source, style: measureStyle(), zIndex: 40, updateWhileAnimating: true, updateWhileInteracting: true }));
  let on = false;
  let kind: MeasureKind = "length";
  let marks: MeasurePoint[] = [];
  const here = (): MeasurePoint => ({ at: toLonLat(mapView.view.getCenter() ?? [0, 0]) as LonLat, pixel: pixelOf(mapView, base) });
  const draw = () => {
    if (!on) return;
    const r = measure(kind, marks, here(), units);
    [bar.main.textContent, bar.more.textContent, bar.limit.textContent] = [r.main, r.more, r.limit];
    bar.undo.disabled = marks.length === 0;
    bar.kind.textContent = kind === "length" ? say("measure.as_area") : say("measure.as_length");
    source.clear();
    source.addFeatures(drawn(marks, here(), kind));
  };
  const tell = () => {
    draw();
    bar.announcement.textContent = `${bar.main.textContent} ${bar.more.textContent}`;
  };
  const add = () => {
    marks.push(here());
    tell();
  };
  const undo = () => {
    marks.pop();
    tell();
  };
  const stop = () => {
    on = false;
    marks = [];
    source.clear();
    show(bar, false);
    byId("map").focus({ preventScroll: true });
  };
  const turn = () => {
    kind = kind === "length" ? "area" : "length";
    tell();
  };
  const bar = makeBar({ add, undo, stop, turn });
  mapView.view.on("propertychange", draw);
  wireTaps(mapView, () => on, { add, undo, stop });
  return {
    start(as) {
      kind = as;
      on = true;
      show(bar, true);
      tell();
      byId("map").focus({ preventScroll: true });
    },
    stop,
  };
}

function show(bar: MeasureBar, on: boolean): void {
  keepAwake("measuring", on);
  bar.box.hidden = !on;
  document.body.classList.toggle("measuring", on);
}

// A tap moves a place under the cross; on the map, keys do what the buttons do.
function wireTaps(mapView: MapView, on: () => boolean, does: { add(): void; undo(): void; stop(): void }): void {
  mapView.map.on("singleclick", (e) => {
    if (on()) mapView.view.animate({ center: e.coordinate, duration: 160 });
  });
  byId("map").addEventListener("keydown", (e) => {
    const act = { Enter: does.add, Backspace: does.undo, Delete: does.undo, Escape: does.stop }[e.key];
    if (!on() || act === undefined) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    act();
  }, { capture: true });
}

/** The size on the ground, in meters, of a pixel of the screen or of the picture, whichever is larger. */
function pixelOf(mapView: MapView, base: BaseMap): number {
  const resolution = mapView.view.getResolution() ?? 0;
  const coarsest = base.coarsestEnlarged(mapView.view.calculateExtent(), resolution);
  return getPointResolution("EPSG:3857", Math.max(resolution, base.finest, coarsest), mapView.view.getCenter() ?? [0, 0], "m");
}

function drawn(marks: MeasurePoint[], cross: MeasurePoint, kind: MeasureKind): Feature[] {
  const fixed = marks.map((m): Coordinate => fromLonLat(m.at));
  const all = [...fixed, fromLonLat(cross.at)];
  const features = fixed.map((c) => new Feature(new Point(c)));
  if (kind === "area" && all.length > 2) features.push(new Feature(new Polygon([[...all, all[0] as Coordinate]])) as never);
  else if (all.length > 1) features.push(new Feature(new LineString(all)) as never);
  return features;
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
