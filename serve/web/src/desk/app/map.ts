// The map in the middle. Under it lies a plain grid in meters on the ground, so that an
// empty desk shows how large things are before any source is chosen.
import OLMap from "ol/Map";
import type { FrameState } from "ol/Map";
import { buffer, containsExtent, type Extent, getHeight, getWidth, isEmpty } from "ol/extent";
import Layer from "ol/layer/Layer";
import { fromLonLat } from "ol/proj";
import { byId } from "../../shared/lib/dom";
import { CalmView, calmInteractions } from "../../shared/map/motion";

/** The least pixels between two lines of the grid. */
const leastPixels = 56;
const maxZoom = 25;

export function makeMap(): OLMap {
  const map = new OLMap({
    target: byId("map"), controls: [], interactions: calmInteractions(), layers: [grid()], pixelRatio: Math.min(devicePixelRatio, 2),
    view: new CalmView({ center: fromLonLat([-98, 39]), zoom: 4, minZoom: 2, maxZoom, enableRotation: false }),
  });
  const zoomBy = (steps: number) => map.getView().animate({ zoom: (map.getView().getZoom() ?? 4) + steps, duration: 160 });
  byId("zoom-in").addEventListener("click", () => zoomBy(1));
  byId("zoom-out").addEventListener("click", () => zoomBy(-1));
  new ResizeObserver(() => map.updateSize()).observe(byId("map"));
  return map;
}

/** Shows a part of the world with room around it, beside a dialog that leaves the map in sight. */
export function fitTo(map: OLMap, extent: Extent): void {
  const side = Math.max(getWidth(extent), getHeight(extent), 20);
  const shown = byId("map").getBoundingClientRect();
  const cover = document.querySelector("dialog.proposal[open]")?.getBoundingClientRect();
  const hidden = cover === undefined ? 0 : Math.max(0, shown.right - cover.left);
  const free = Math.max(80, shown.width - hidden);
  const edge = Math.min(24, free / 4);
  map.getView().fit(buffer(extent, side * 0.05), { padding: [64, shown.width - free + edge, edge, edge], maxZoom: 21, duration: 0 });
}

/** Shows a part of the world unless the whole of it is in view. */
export function bringIntoView(map: OLMap, extent: Extent | null): void {
  if (extent !== null && !isEmpty(extent) && !containsExtent(map.getView().calculateExtent(), extent)) fitTo(map, extent);
}

/** Remembers what the map shows; gives what shows it again. */
export function keepView(map: OLMap): () => void {
  const view = map.getView();
  const [center, resolution] = [view.getCenter(), view.getResolution()];
  return () => {
    view.setCenter(center);
    view.setResolution(resolution);
  };
}

/** A ground length of 1, 2 or 5 times a power of ten, at least so long. */
function roundLength(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  return power * ([1, 2, 5, 10].find((n) => n * power >= least) ?? 10);
}

function grid(): Layer {
  const canvas = document.createElement("canvas");
  canvas.className = "grid";
  const layer = new Layer({ render: (frame) => draw(canvas, frame as FrameState), zIndex: -10 });
  return layer;
}

function draw(canvas: HTMLCanvasElement, frame: FrameState): HTMLElement {
  const { size: [width = 0, height = 0], pixelRatio, viewState: { center, resolution } } = frame;
  const [w, h] = [Math.round(width * pixelRatio), Math.round(height * pixelRatio)];
  if (canvas.width !== w || canvas.height !== h) Object.assign(canvas, { width: w, height: h });
  canvas.style.cssText = `position: absolute; width: ${width}px; height: ${height}px;`;
  const pen = canvas.getContext("2d");
  const [x = 0, y = 0] = center;
  if (pen === null) return canvas;
  const shrink = 1 / Math.cosh(y / 6378137); // meters on the ground to one of the map
  const step = roundLength(leastPixels * resolution * shrink) / shrink;
  pen.setTransform(pixelRatio, 0, 0, pixelRatio, 0, 0);
  pen.clearRect(0, 0, width, height);
  pen.lineWidth = 1;
  pen.strokeStyle = getComputedStyle(canvas.parentElement ?? document.documentElement).getPropertyValue("--grid");
  pen.beginPath();
  const [left, top] = [x - (width / 2) * resolution, y + (height / 2) * resolution];
  for (let at = Math.ceil(left / step) * step; (at - left) / resolution < width; at += step) {
    const px = Math.round((at - left) / resolution) + 0.5;
    pen.moveTo(px, 0);
    pen.lineTo(px, height);
  }
  for (let at = Math.floor(top / step) * step; (top - at) / resolution < height; at -= step) {
    const py = Math.round((top - at) / resolution) + 0.5;
    pen.moveTo(0, py);
    pen.lineTo(width, py);
  }
  pen.stroke();
  return canvas;
}

/** A box in degrees with a margin in meters on the ground, as an extent of the map; the east may be beyond 180. */
export function extentOf([west, south, east, north]: [number, number, number, number], margin: number): Extent {
  const [x1 = 0, y1 = 0] = fromLonLat([west, south]);
  const [x2 = 0, y2 = 0] = fromLonLat([east, north]);
  return buffer([x1, y1, x2, y2], margin * Math.cosh((y1 + y2) / 2 / 6378137));
}
