// The cross in the middle of the map, and the one tool at a time that has it. One hand is enough,
// and no precise tap is needed: a tap moves its place under the cross, a button takes it.
import type { Coordinate } from "ol/coordinate";
import { getPointResolution } from "ol/proj";
import { byId, make } from "../lib/dom";
import { keepAwake } from "../lib/wakelock";
import type { BaseMap } from "../map/basemap";
import type { MapView } from "../map/mapview";
import "./crosshair.css";

/** A tool that works by the cross. */
export interface CrossTool {
  /** its bar, which is shown while it has the cross */
  bar: HTMLElement;
  /** Takes what is under the cross. */
  take(): void;
  /** Takes back the last one. */
  back(): void;
  /** Runs when the tool loses the cross, to another tool or for good. */
  stopped(replaced: boolean): void;
  /** Where a tapped place is moved under the cross; the place itself if absent. */
  snapped?(place: Coordinate): Promise<Coordinate>;
}

export interface Crosshair {
  /** Gives the cross to a tool; the one that had it stops. */
  begin(tool: CrossTool): void;
  /** Ends the tool that has the cross, if any. */
  end(): void;
}

/** How far an arrow key moves the map with Shift held, in pixels. */
const finePan = 8;

export function makeCrosshair(mapView: MapView): Crosshair {
  const cross = make("div", "");
  cross.id = "cross";
  byId("stage").append(cross);
  let tool: CrossTool | null = null;
  const show = (t: CrossTool, on: boolean) => {
    keepAwake("measuring", on);
    t.bar.hidden = !on;
    document.body.classList.toggle("measuring", on);
  };
  const stop = (replaced: boolean) => {
    const ended = tool;
    tool = null;
    if (ended === null) return;
    show(ended, false);
    byId("map").focus({ preventScroll: true });
    ended.stopped(replaced);
  };
  const end = () => stop(false);
  mapView.map.on("singleclick", (e) => {
    const now = tool;
    if (now === null) return;
    void (now.snapped?.(e.coordinate) ?? Promise.resolve(e.coordinate))
      .then((center) => now === tool && mapView.view.animate({ center, duration: 160 }));
  });
  byId("map").addEventListener("keydown", (e) => {
    const act = tool === null ? undefined : keyAction(e, tool, mapView, end);
    if (act === undefined) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    act();
  }, { capture: true });
  return {
    begin(next) {
      if (tool !== next) stop(true);
      tool = next;
      show(next, true);
      byId("map").focus({ preventScroll: true });
    },
    end,
  };
}

/** On the map, keys do what the buttons do. */
function keyAction(e: KeyboardEvent, tool: CrossTool, { view }: MapView, end: () => void): (() => void) | undefined {
  const pan = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
  if (pan !== undefined) {
    const step = finePan * (view.getResolution() ?? 0);
    return e.shiftKey ? () => view.adjustCenter(pan.map((p) => p * step)) : undefined;
  }
  return { Enter: () => tool.take(), Backspace: () => tool.back(), Delete: () => tool.back(), Escape: end }[e.key];
}

/** The size on the ground, in meters, of a pixel of the screen or of the picture, whichever is larger. */
export function pixelOf(mapView: MapView, base: BaseMap): number {
  const resolution = mapView.view.getResolution() ?? 0;
  const coarsest = base.coarsestEnlarged(mapView.view.calculateExtent(), resolution);
  return getPointResolution("EPSG:3857", Math.max(resolution, base.finest, coarsest), mapView.view.getCenter() ?? [0, 0], "m");
}
