// The map: a view that stays near the job, hits of a tap, and the selection.
import type Feature from "ol/Feature";
import OLMap from "ol/Map";
import type View from "ol/View";
import type { Coordinate } from "ol/coordinate";
import { buffer, type Extent, getCenter, getHeight, getWidth, isEmpty } from "ol/extent";
import type VectorLayer from "ol/layer/Vector";
import { fromLonLat, toLonLat } from "ol/proj";
import { byId } from "../lib/dom";
import { resolutionAtZoom0 } from "../lib/mercator";
import { type Hit, pointsFirst, type RecordLayer } from "../records/layer";
import type { Clear } from "../records/markplaces";
import type { BaseMap } from "./basemap";
import { type Box, coversNow, type Insets, watchFreeMap } from "./freemap";
import { CalmView, calmInteractions } from "./motion";
import { makeSelection } from "./selection";
import type { ViewPosition } from "./viewhash";

/** How many zooms past the deepest tiles the view may go. */
const overzoom = 4.5;
/** The smallest size of the job on screen, in pixels. */
const minJobPixels = 120;
/** The tolerance of a tap, in pixels. */
const tapTolerance = 14;
/** How far the job stays from the edge of the free map when it is fitted, and how far a revealed thing, in pixels. */
const fitMargin = 20;
const revealMargin = 36;

/**
 * The most pixels of the map to a pixel of the page, each way. Tiles have two at most. A screen of three
 * has some 460 to the inch: two are 0.08 mm then, half of what an eye parts at arm's length (a minute
 * of arc is 0.17 mm at 60 cm), and three cost twice as much to paint.
 */
const maxPixelRatio = 2;

export interface MapView {
  map: OLMap;
  view: View;
  wholeJob(): void;
  zoomBy(steps: number): void;
  position(): ViewPosition | null;
  moveTo(at: ViewPosition): void;
  /** The features of records at a pixel, points first. */
  recordsAt(pixel: number[], layers: RecordLayer[]): Hit[];
  /** The features of some layers at a pixel, in the order of the layers. */
  featuresAt(pixel: number[], layers: VectorLayer[]): Feature[];
  /** Marks some features, and others lighter. */
  select(chosen: Feature[], others?: Feature[]): void;
  /** The middle of the free map, as a pixel: the place of the cross. */
  middle(): [number, number];
  /** The ground of the job, and the free map: left, top, right and bottom, in pixels of the map. */
  job: Extent;
  free(): [number, number, number, number];
  /** What can be seen of the map now; null before it is drawn. */
  clear(): Clear | null;
  /** Looks at once what covers the map, as a browser does at its next frame. */
  look(): void;
  /** Moves the map so that a place is in the free map. */
  reveal(place: Coordinate): void;
}

/** A view around the job, from above the shallowest tiles to past the deepest. */
function makeView(job: Extent, base: BaseMap): View {
  const side = Math.max(getWidth(job), getHeight(job), 20);
  const zoomOf = (resolution: number) => Math.log2(resolutionAtZoom0 / resolution);
  const maxZoom = zoomOf(base.finest) + overzoom;
  return new CalmView({
    center: getCenter(job),
    zoom: 17,
    minZoom: Math.max(0, Math.min(zoomOf(side / minJobPixels), zoomOf(base.coarsest) - 1, maxZoom - 1)),
    maxZoom,
    extent: buffer(job, side),
    constrainOnlyCenter: true,
    smoothExtentConstraint: true,
    enableRotation: false,
  });
}

export function makeMapView(area: Extent, base: BaseMap): MapView {
  const job = isEmpty(area) ? base.extent : area; // a file of another program has no area: use the extent of its tiles
  const view = makeView(job, base);
  const selection = makeSelection();
  const map = new OLMap({
    target: byId("map"), view, controls: [], layers: [base.layer, selection.layer],
    interactions: calmInteractions(), pixelRatio: Math.min(devicePixelRatio, maxPixelRatio),
  });
  const free = makeFree(map, job);
  let zoomGoal: number | null = null; // where it glides to: another step goes on from there
  const mapView: MapView = {
    map,
    view,
    wholeJob: free.fit,
    zoomBy(steps) {
      const goal = Math.max(view.getMinZoom(), Math.min(view.getMaxZoom(), (zoomGoal ?? view.getZoom() ?? 17) + steps));
      zoomGoal = goal;
      view.animate({ zoom: goal, duration: 160 }, () => {
        if (zoomGoal === goal) zoomGoal = null;
      });
    },
    position() {
      const [x, y] = view.getCenter() ?? [];
      const zoom = view.getZoom();
      if (x === undefined || y === undefined || zoom === undefined) return null;
      const [right, down] = free.shift();
      const [lon, lat] = toLonLat([x - right, y + down]) as [number, number];
      return { lat, lon, zoom };
    },
    moveTo(at) {
      view.setZoom(at.zoom);
      const [x = 0, y = 0] = fromLonLat([at.lon, at.lat]);
      const [right, down] = free.shift();
      view.setCenter([x + right, y - down]);
    },
    recordsAt: (pixel, all) => recordsAt(map, pixel, all),
    featuresAt(pixel, layers) {
      const found = layers.map((l) => map.getFeaturesAtPixel(pixel, { hitTolerance: l.get("exact") === true ? 0 : tapTolerance, layerFilter: (x) => x === l }));
      return [...new Set(found.flat())] as Feature[];
    },
    select: selection.select,
    middle: free.middle,
    job,
    free: free.box,
    look: free.look,
    clear() {
      const [width = 0, height = 0] = map.getSize() ?? [];
      const extentOf = ({ left, top, right, bottom }: Box): Extent =>
        [...map.getCoordinateFromPixel([left, bottom]) ?? [], ...map.getCoordinateFromPixel([right, top]) ?? []];
      const whole = extentOf({ left: 0, top: 0, right: width, bottom: height });
      const { covers, cross } = coversNow();
      return whole.length < 4 ? null : { view: whole, covers: covers.map(extentOf), cross: cross && extentOf(cross) };
    },
    reveal(place) {
      free.look();
      reveal(view, free.size(), place, isUnder("#toast", map, place));
    },
  };
  free.fit();
  return mapView;
}

/** Keeps the view's middle in the middle of the free map. A job that was fitted stays so when that changes. */
function makeFree(map: OLMap, job: Extent) {
  const view = map.getView();
  let insets: Insets = [0, 0, 0, 0];
  let corners: Insets = [0, 0, 0, 0]; // what a job that is fitted keeps clear of beyond them
  let fitted = "";
  let aimed = false; // whether a tool has had the cross since the middle was looked at last
  const now = () => [view.getResolution(), ...(view.getCenter() ?? [])].join();
  const fit = () => {
    view.fit(job, { padding: corners.map((c) => c + fitMargin), duration: 0 });
    fitted = now();
  };
  const look = watchFreeMap((covered, all, settle) => {
    const whole = fitted === now();
    const before = aimed ? view.getCenter() : undefined;
    aimed = document.body.classList.contains("measuring");
    map.updateSize();
    insets = covered;
    corners = all.map((a, side) => Math.max(0, a - (covered[side] ?? 0))) as Insets;
    view.padding = insets;
    // While somebody aims, the map moves with its middle: what is under the cross stays there.
    if (before && aimed) return view.setCenter(before);
    if (!whole) return;
    if (settle) fit();
    else fitted = now();
  });
  const [width, height] = [() => map.getSize()?.[0] ?? 0, () => map.getSize()?.[1] ?? 0];
  return {
    fit, look,
    size: (): [number, number] => [width() - insets[1] - insets[3], height() - insets[0] - insets[2]],
    box: (): [number, number, number, number] => [insets[3], insets[0], width() - insets[1], height() - insets[2]],
    middle: (): [number, number] => [(width() + insets[3] - insets[1]) / 2, (height() + insets[0] - insets[2]) / 2],
    /** From the middle of the whole map to that of the free one, right and down, in projected meters. */
    shift(): [number, number] {
      const half = (view.getResolution() ?? 0) / 2;
      return [(insets[3] - insets[1]) * half, (insets[0] - insets[2]) * half];
    },
  };
}

function reveal(view: View, [width, height]: [number, number], [x, y]: Coordinate, hidden: boolean): void {
  const [midX, midY] = view.getCenter() ?? [];
  const resolution = view.getResolution();
  if (!resolution || x === undefined || y === undefined || midX === undefined || midY === undefined) return;
  const aside = Math.abs(x - midX) / resolution > Math.max(0, width / 2 - revealMargin);
  const under = Math.abs(y - midY) / resolution > Math.max(0, height / 2 - revealMargin);
  if (aside || under || hidden) view.animate({ center: [aside ? x : midX, under || hidden ? y : midY], duration: 160 });
}

/** Whether something on the page covers a place. */
function isUnder(cover: string, map: OLMap, place: Coordinate): boolean {
  const [x, y] = map.getPixelFromCoordinate(place) ?? [];
  const box = document.querySelector(cover)?.getBoundingClientRect();
  const origin = map.getTargetElement()?.getBoundingClientRect();
  if (x === undefined || y === undefined || !box || !origin) return false;
  return x + origin.left > box.left && x + origin.left < box.right && y + origin.top > box.top && y + origin.top < box.bottom + tapTolerance;
}

function recordsAt(map: OLMap, pixel: number[], layers: RecordLayer[]): Hit[] {
  const found: Hit[] = [];
  map.forEachFeatureAtPixel(pixel, (f, layer) => {
    const of = layers.find((l) => l.parts.some((p) => p === layer));
    if (of && !found.some((h) => h.feature === f)) found.push({ feature: f as Feature, overlay: of.overlay });
  }, { hitTolerance: tapTolerance, layerFilter: (l) => layers.some((x) => x.parts.some((p) => p === l)) });
  return pointsFirst(found);
}
