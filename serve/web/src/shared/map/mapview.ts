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
import type { BaseMap } from "./basemap";
import { CalmView, calmInteractions } from "./motion";
import { makeSelection } from "./selection";
import type { ViewPosition } from "./viewhash";

/** How many zooms past the deepest tiles the view may go. */
const overzoom = 4.5;
/** The smallest size of the job on screen, in pixels. */
const minJobPixels = 120;
/** The tolerance of a tap, in pixels. */
const tapTolerance = 14;

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
  /** Moves the map so that a place is visible above what covers its lower edge. */
  reveal(place: Coordinate, covered: number): void;
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
  const wholeJob = () => view.fit(job, { padding: [36, 36, 36, 36], duration: 0 });
  const mapView: MapView = {
    map,
    view,
    wholeJob,
    zoomBy: (steps) => view.animate({ zoom: (view.getZoom() ?? 17) + steps, duration: 160 }),
    position() {
      const center = view.getCenter();
      const zoom = view.getZoom();
      if (center === undefined || zoom === undefined) return null;
      const [lon, lat] = toLonLat(center) as [number, number];
      return { lat, lon, zoom };
    },
    moveTo(at) {
      view.setCenter(fromLonLat([at.lon, at.lat]));
      view.setZoom(at.zoom);
    },
    recordsAt: (pixel, all) => recordsAt(map, pixel, all),
    featuresAt(pixel, layers) {
      const found = layers.map((l) => map.getFeaturesAtPixel(pixel, { hitTolerance: l.get("exact") === true ? 0 : tapTolerance, layerFilter: (x) => x === l }));
      return [...new Set(found.flat())] as Feature[];
    },
    select: selection.select,
    reveal: (place, covered) => reveal(map, place, covered),
  };
  wholeJob();
  return mapView;
}

function reveal(map: OLMap, [x, y]: Coordinate, covered: number): void {
  map.updateSize(); // a sheet beside the map may have made it narrower
  const view = map.getView();
  const [width, height] = map.getSize() ?? [];
  const [midX, midY] = view.getCenter() ?? [];
  const resolution = view.getResolution();
  if (!width || !height || !resolution || x === undefined || y === undefined || midX === undefined || midY === undefined) return;
  const right = (x - midX) / resolution; // from the center, in pixels
  const down = (midY - y) / resolution;
  const free = height - covered;
  const aside = Math.abs(right) > width / 2 - 24;
  const under = covered > 0 && height / 2 + down > free - 40;
  if (!aside && !under) return;
  view.animate({
    center: [aside ? x : midX, under ? midY - (height / 2 + down - free / 2) * resolution : midY],
    duration: 160,
  });
}

function recordsAt(map: OLMap, pixel: number[], layers: RecordLayer[]): Hit[] {
  const found: Hit[] = [];
  map.forEachFeatureAtPixel(pixel, (f, layer) => {
    const of = layers.find((l) => l.parts.some((p) => p === layer));
    if (of && !found.some((h) => h.feature === f)) found.push({ feature: f as Feature, overlay: of.overlay });
  }, { hitTolerance: tapTolerance, layerFilter: (l) => layers.some((x) => x.parts.some((p) => p === l)) });
  return pointsFirst(found);
}
