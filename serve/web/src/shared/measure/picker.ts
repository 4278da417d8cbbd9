// Choosing spots one after another: what is under the cross, the position, or a typed place.
import Feature from "ol/Feature";
import { type Geometry, LineString, Point } from "ol/geom";
import VectorLayer from "ol/layer/Vector";
import type { Coordinate } from "ol/coordinate";
import type { Extent } from "ol/extent";
import { fromLonLat, toLonLat } from "ol/proj";
import VectorSource from "ol/source/Vector";
import { Circle, Stroke, Style } from "ol/style";
import type { LonLat } from "../coords/geodesic";
import { cachedByTheme, theme } from "../lib/theme";
import { roundedUpText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { thumb } from "../records/tiled";
import type { BaseMap } from "../map/basemap";
import type { MapView } from "../map/mapview";
import type { Sheet } from "../shell/sheet";
import { type BarText, makeCrossBar } from "./crossbar";
import { type Crosshair, type CrossTool, pixelOf } from "./crosshair";
import type { Spot } from "./doubt";
import { placeInput } from "./placeinput";
import { type Snapper, underCross } from "./snap";

/** Somebody who wants spots. */
export interface Wish {
  /** The text of the bar for a spot that could be taken. */
  words(spot: Spot): BarText;
  /** Where a line to a spot that could be taken begins; null for none. */
  from(spot: Spot): LonLat | null;
  /** Takes a spot; false when no further one is wanted. */
  take(spot: Spot): boolean;
  /** Takes the last one back. */
  back(): void;
  /** Finds what a place stands for, where that is no reading, crossing or corner. */
  seek?(place: Coordinate, pixels: number, resolution: number): Promise<Spot | null>;
  /** Runs when choosing ends, unless another tool begins. */
  ended(): void;
}

export interface Picker {
  start(wish: Wish): void;
}

interface PickerContext {
  mapView: MapView;
  base: BaseMap;
  sheet: Sheet;
  crosshair: Crosshair;
  snapper: Snapper;
  units: Units;
  job: Extent;
  /** The position of the person; a sentence why there is none that can be used. */
  position(): Spot | string;
}

export function makePicker(context: PickerContext): Picker {
  const { mapView: { map, view }, crosshair, sheet, snapper } = context;
  const ring = new Feature<Geometry>();
  const leash = new Feature<Geometry>();
  map.addLayer(new VectorLayer({ source: new VectorSource({ features: [leash, ring] }), style: pickStyle(), zIndex: 41, updateWhileAnimating: true, updateWhileInteracting: true }));
  let wish: Wish | null = null;
  let snapped: Spot | null = null;
  let looked = 0; // a later look cancels an answer that is still on its way
  const here = (): Spot => snapped ?? spotUnderCross(context);
  const show = () => {
    if (wish === null) return;
    const spot = here();
    bar.show(wish.words(spot));
    const from = wish.from(spot);
    leash.setGeometry(from === null ? undefined : new LineString([fromLonLat(from), fromLonLat(spot.at)]));
  };
  const seek = (place: Coordinate, pixels: number) => (wish?.seek ?? snapper.spotNear)(place, pixels, view.getResolution() ?? 1);
  const look = async () => {
    const look = ++looked;
    if (wish === null) return;
    const found = await seek(view.getCenter() ?? [0, 0], underCross);
    if (look !== looked || wish === null) return;
    snapped = found;
    ring.setGeometry(found === null ? undefined : new Point(fromLonLat(found.at)));
    show();
    bar.announce();
  };
  const take = (spot: Spot) => {
    if (wish === null) return;
    if (!wish.take(spot)) return crosshair.end();
    show();
    bar.announce();
  };
  const tool: CrossTool = {
    get bar() { return bar.box; },
    take: () => void look().then(() => take(here())),
    back() {
      wish?.back();
      show();
      bar.announce();
    },
    stopped(replaced) {
      const ended = wish;
      [wish, snapped] = [null, null];
      for (const f of [ring, leash]) f.setGeometry(undefined);
      if (!replaced) ended?.ended();
    },
    snapped: async (place: Coordinate) => {
      const found = await seek(place, thumb);
      return found === null ? place : fromLonLat(found.at);
    },
  };
  const type = () => sheet.open({
    title: say("tie.type_title"),
    body: () => [placeInput({ ...context, picture: context.base.extent, label: say("tie.type_label"), choose: (r) => {
      sheet.close();
      view.setCenter(fromLonLat([r.lon, r.lat]));
      take({ at: [r.lon, r.lat], what: say("tie.typed"), doubt: { metres: null, atLeast: false }, grounds: say("tie.grounds_typed"), named: "" });
    } })],
  });
  const position = () => {
    const at = context.position();
    if (typeof at !== "string") return take(at);
    bar.show({ main: at, more: "", limit: "" });
    bar.announce();
  };
  const bar = makeCrossBar("pick", say("tie.choosing"), [
    { id: "pick-done", text: say("measure.done"), press: crosshair.end },
    { id: "pick-position", text: say("tie.position"), press: position },
    { id: "pick-type", text: say("tie.type"), press: type },
    { id: "pick-take", text: say("tie.take"), press: tool.take, takes: true },
  ]);
  view.on("propertychange", () => {
    if (snapped !== null && !isAt(snapped, view.getCenter(), view.getResolution())) snapped = null;
    if (snapped === null) ring.setGeometry(undefined);
    show();
  });
  map.on("moveend", () => void look());
  return {
    start(next) {
      crosshair.begin(tool);
      [wish, snapped] = [next, null];
      for (const id of ["pick-position", "pick-type"]) bar.button(id).hidden = next.seek !== undefined;
      show();
      void look();
    },
  };
}

/** Whether the cross is still so near a spot that it stands for it. */
function isAt(spot: Spot, [x = 0, y = 0]: Coordinate = [], resolution = 1): boolean {
  const [u = 0, v = 0] = fromLonLat(spot.at);
  return Math.hypot(u - x, v - y) <= resolution;
}

/** The spot under the cross, as good as the coarser pixel at best. */
function spotUnderCross({ mapView, base, units }: PickerContext): Spot {
  const metres = pixelOf(mapView, base);
  return {
    at: toLonLat(mapView.view.getCenter() ?? [0, 0]) as LonLat, what: say("tie.under_cross"), named: "",
    doubt: { metres, atLeast: true }, grounds: say("tie.grounds_picture", { pixel: roundedUpText(metres, units) }),
  };
}

/** A ring around what the cross stands for, and a dashed line to it. */
function pickStyle(): () => Style[] {
  const lit = cachedByTheme(() => ([[theme().paper, 8, []], [theme().ink, 4, [10, 8]]] as const).map(([color, width, dash]) => new Style({
    image: new Circle({ radius: 20, stroke: new Stroke({ color, width }) }), stroke: new Stroke({ color, width: width - 1, lineDash: [...dash] }),
  })));
  return () => lit("");
}
