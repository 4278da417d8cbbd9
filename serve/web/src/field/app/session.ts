// One open pack: its map, its layers, and the wiring of the page to them.
import Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import Point from "ol/geom/Point";
import { toLonLat } from "ol/proj";
import { type Derived, makeDerived } from "../../shared/derived/layers";
import { makeTiledDerived, type TiledDerived } from "../../shared/derived/tiled";
import type { About, LineSymbols, Overlay, PackEntry, StateSymbol, TileJSON, Verdict } from "../../shared/lib/api";
import { byId, make } from "../../shared/lib/dom";
import { errorMessage, getJSON } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { type BaseMap, makeBaseMap } from "../../shared/map/basemap";
import { loadDigArea } from "../../shared/map/digarea";
import { firstPicture } from "../../shared/map/firstpicture";
import { watchHiddenMarks } from "../../shared/map/hiddenlabels";
import { saveView } from "../../shared/map/lastview";
import { makeMapView, type MapView } from "../../shared/map/mapview";
import { showCredit, showDrawnCount, showHiddenDepths, showScale } from "../../shared/map/readout";
import { formatViewHash, parseViewHash, type ViewPosition } from "../../shared/map/viewhash";
import type { GoTo } from "../../shared/measure/goto";
import { type DepthLabels, makeDepthLabels } from "../../shared/records/depthlabels";
import { isOn, isTiled, pointsFirst, type RecordLayer } from "../../shared/records/layer";
import { loadRecord, makeRecordLayer } from "../../shared/records/load";
import { setStateSymbols } from "../../shared/records/statesymbols";
import { setLineSymbols } from "../../shared/records/symbology";
import { makeTiledRecords, type NearbyRecords, type TiledRecords } from "../../shared/records/tiled";
import { derivedDetails } from "../../shared/sheets/deriveddetails";
import { layersBody, recordsCaution } from "../../shared/sheets/layersheet";
import { recordDetails } from "../../shared/sheets/recorddetails";
import type { ErrorBar } from "../../shared/shell/errorbar";
import type { Page, Sheet } from "../../shared/shell/sheet";
import type { ThemePicker } from "../../shared/shell/themepicker";
import type { Toast } from "../../shared/shell/toast";
import { showHeader } from "../job/header";
import { makeTicket } from "../job/ticket";
import { showVerdict, type Verdicts } from "../job/verdict";
import type { Connection } from "../live/connection";
import type { Events } from "../live/events";
import { makePosition } from "../position/position";
import { wireTools } from "./wiretools";

/** What the page shares with an open pack. */
export interface PageParts {
  strip: ErrorBar;
  sheet: Sheet;
  spot: Toast;
  events: Events;
  lights: ThemePicker;
  reach: Connection;
  verdicts: Verdicts;
}

export interface Session extends PageParts {
  about: About;
  base: BaseMap;
  chart: MapView;
  layers: RecordLayer[];
  known: Derived;
  depths: DepthLabels;
  /** what is known of the pack as a whole */
  verdict: () => Verdict;
  goTo: GoTo;
  large: TiledRecords;
  /** zones and crossings when there are very many, else null */
  zones: TiledDerived | null;
  /** how often the map was tapped */
  taps: number;
  /** the laptop has another version of the pack by now: nothing more is loaded */
  exchanged: boolean;
}

/** Opens a pack and draws it; resolves with the chart when picture and records are on screen. */
export async function openPack(entry: PackEntry, at: ViewPosition | null, frame: PageParts): Promise<MapView> {
  let layersShown: (() => void) | null = null;
  const about = await getJSON<About>(entry.about, say("load.job"));
  showHeader(about);
  const verdict = showVerdict(entry, frame.verdicts, frame.sheet, () => layersShown?.());
  showCautions(about, frame.sheet);
  const [tilejson, area, list] = await Promise.all([
    getJSON<TileJSON>(about.tilejson, say("load.picture")),
    loadDigArea(about.area),
    getJSON<{ overlays: Overlay[]; styles?: LineSymbols; states?: StateSymbol[] }>(about.overlays, say("load.records")),
  ]);
  showCredit(about, tilejson);
  setLineSymbols(list.styles);
  setStateSymbols(list.states);

  let rescale = () => undefined as void;
  const base: BaseMap = makeBaseMap(tilejson, about.tile_size, window.devicePixelRatio, area.wanted, {
    // Out of reach that is told already, and the picture comes again by itself.
    failed: () => void frame.reach.check().then((near) => near && frame.strip.show(say("load.picture_part"), base.reload)),
    enlarged: () => rescale(),
  });
  const chart = makeMapView(area.extent, base);
  if (at !== null) chart.moveTo(at);
  await firstPicture(chart.map, base.layer); // a slow phone needs a tenth of a second to make the rest

  const depths = makeDepthLabels(() => layers, about.units, () => known.crossings());
  const layers: RecordLayer[] = list.overlays.map((o, i) => makeRecordLayer(o, depths, i));
  const known = makeDerived(about.known_large?.entries ?? about.known ?? "", layers);
  chart.addLayers([area.layer, ...layers.flatMap((l) => l.parts), ...known.layers.map((l) => l.layer)]);
  const failed = (fault: string) => frame.strip.show(fault, () => void loadRecords(open));
  const large = makeTiledRecords(chart.map, layers, () => depths.refresh(), failed);
  const zones = about.known_large ? makeTiledDerived(chart.map, about.known_large, known, layers, () => depths.refresh(), failed) : null;
  const parts = { ...frame, about, verdict, base, chart, layers, known, depths, large, zones, taps: 0, exchanged: false };
  const whereAmI = makePosition(chart, area.wanted, about.units, frame.sheet, frame.events);
  const open: Session = { ...parts, goTo: wireTools(parts, area.extent, whereAmI) };
  rescale = once(() => showScale(chart.view, base, about));

  wireView(open, entry.id, rescale);
  layersShown = wireControls(open);
  watchHiddenMarks(chart, known, layers);
  const clock = makeTicket(about, frame.reach.ahead);
  await loadRecords(open);
  const exchanged = () => {
    open.exchanged = true;
    [base, large, zones].forEach((part) => part?.stop());
  };
  frame.reach.watch({ id: entry.id, clock, exchanged, listed: frame.verdicts.listed, back: () => comeBack(open) });
  frame.events.on("packs", () => void frame.reach.check());
  frame.events.on("link", (up) => up !== true && void frame.reach.check()); // sooner than its own turn
  await new Promise<void>((drawn) => {
    chart.map.once("rendercomplete", () => drawn());
    chart.map.render();
  });
  return chart;
}

/** Runs `f` at the next frame, however often it is asked for till then. */
function once(f: () => void): () => void {
  let waiting = false;
  return () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      f();
    });
  };
}

async function loadRecords(open: Session): Promise<void> {
  if (open.exchanged) return;
  await Promise.all([open.known.load().then(() => open.known.fault === "" ? open.zones?.load() : undefined), ...open.layers.filter((l) => l.fault !== "").map((l) => (isTiled(l) ? open.large.load(l) : loadRecord(l)))]);
  open.depths.refresh();
  open.sheet.refresh();
  const faults = [...open.layers, open.known].filter((l) => l.fault !== "");
  const first = faults[0];
  if (first === undefined) {
    const lost = open.layers.filter((l) => l.notDrawn > 0).map((l) => say("layers.not_drawn_of", { record: l.overlay.title, n: l.notDrawn }));
    if (lost.length > 0) open.strip.show(lost.join(" "), () => undefined);
    return;
  }
  const told = faults.length > 1 ? say("load.more", { fault: first.fault, n: faults.length - 1 }) : first.fault;
  open.strip.show(told, () => void loadRecords(open));
}

// After the hotspot came back: what did not load is asked for again.
function comeBack(open: Session): void {
  open.strip.hide();
  open.base.reload();
  if ([...open.layers, open.known].some((l) => l.fault !== "")) void loadRecords(open);
}

function showCautions(about: About, sheet: Sheet): void {
  const cautions = about.cautions.length > 0 ? about.cautions : [recordsCaution];
  byId("caution-words").textContent = cautions[0] ?? "";
  byId("caution-more").textContent = cautions.length > 1 ? say("page.all_cautions", { n: cautions.length }) : "";
  const page: Page = {
    title: say("page.cautions"),
    body: () => [make("ol", "cautions", ...cautions.map((c) => make("li", "", c)))],
  };
  byId("caution").hidden = false;
  byId("caution").onclick = () => sheet.open(page);
}

function wireView(open: Session, id: string, rescale: () => void): void {
  const { chart, depths } = open;
  rescale();
  chart.map.on("rendercomplete", () => {
    const { view } = chart;
    const resolution = view.getResolution() ?? 0;
    showDrawnCount(open.large.drawn(view.calculateExtent()), open.zones?.tooFar(view.getResolution() ?? 0) === true);
    showHiddenDepths(depths.someHidden(view.calculateExtent(), resolution), resolution <= view.getMinResolution() * 1.01);
  });
  chart.view.on("propertychange", rescale);
  chart.map.on("change:size", rescale);
  // Late and seldom: some browsers refuse a page that writes its address too often.
  let writing: ReturnType<typeof setTimeout> | undefined;
  chart.map.on("moveend", () => {
    clearTimeout(writing);
    writing = setTimeout(() => {
      history.replaceState(null, "", formatViewHash({ pack: id, at: chart.position() }));
      saveView(id, chart.position());
    }, 400);
  });
  window.addEventListener("hashchange", () => {
    const place = parseViewHash(location.hash);
    if (place.pack !== id) location.reload();
    else if (place.at !== null) chart.moveTo(place.at);
  });
}

// Gives what draws Layers again.
function wireControls(open: Session): () => void {
  const { chart, layers, sheet, about } = open;
  const layersPage: Page = { title: say("page.layers"), body: () => layersBody(about, layers, open.known, open.verdict(), countHidden) };
  const countHidden = () => {
    open.depths.refresh();
    open.known.redraw();
    const off = layers.filter((l) => !isOn(l)).length + open.known.layers.filter((l) => !l.layer.getVisible()).length;
    byId("show-layers").textContent = off === 0 ? say("page.layers") : say("page.layers_off", { n: off });
  };
  sheet.setDefault(layersPage);
  byId("show-layers").onclick = () => (sheet.shows(layersPage) ? sheet.close() : sheet.open(layersPage));
  byId("whole-job").onclick = chart.wholeJob;
  byId("zoom-in").onclick = () => chart.zoomBy(1);
  byId("zoom-out").onclick = () => chart.zoomBy(-1);
  chart.map.on("singleclick", (e) => void inspect(open, e.pixel, e.coordinate));
  byId("map").addEventListener("keydown", (e) => {
    const size = chart.map.getSize();
    const center = chart.view.getCenter();
    if (e.key === "Enter" && size && center) void inspect(open, [(size[0] ?? 0) / 2, (size[1] ?? 0) / 2], center);
  });
  return () => sheet.redrawPage(layersPage);
}

async function inspect(open: Session, pixel: number[], place: Coordinate): Promise<void> {
  if (document.body.classList.contains("measuring")) return;
  open.goTo.tapped(toLonLat(place) as [number, number]);
  const { chart, sheet, spot, layers } = open;
  const tap = ++open.taps; // a later one overtakes an answer that is still on its way
  const drawn = chart.recordsAt(pixel, layers.filter((l) => !isTiled(l)));
  const known = chart.featuresAt(pixel, [...open.known.layers].reverse().filter((l) => !l.content).map((l) => l.layer));
  spot.hide();
  let near: NearbyRecords;
  try {
    const resolution = chart.view.getResolution() ?? 1;
    const [records, worked] = await Promise.all([open.large.near(place, resolution), open.zones?.near(place, resolution) ?? []]);
    near = records;
    known.push(...worked);
  } catch (e) {
    open.strip.show(errorMessage(e), () => void inspect(open, pixel, place));
    near = { hits: [], matched: 0 };
    if (drawn.length + known.length === 0) return; // nobody knows what lies here
  }
  if (tap !== open.taps) return;
  const found = pointsFirst([...drawn, ...near.hits]);
  if (found.length + known.length === 0) {
    sheet.close();
    chart.select([new Feature(new Point(place))]);
    spot.show(emptyPlace(layers, open.goTo.words(toLonLat(place) as [number, number])), () => chart.select([]));
    return;
  }
  chart.select(found.map((h) => h.feature));
  const crossings = known.filter((f) => f.get("part") === "crossing");
  const rest = known.filter((f) => f.get("part") !== "crossing");
  const rule = open.about.tolerance?.rule ?? "";
  const told = (list: Feature[]) => derivedDetails(list, layers, open.about.units, rule);
  const count = drawn.length + near.matched + crossings.length;
  sheet.open({
    title: count > 1 ? say("here.records", { n: count }) : say("here.one"),
    body: () => [...told(crossings), ...recordDetails(found, open.about.units), ...told(rest)],
  });
  chart.reveal(place, sheet.covers());
}

// What is off or not loaded may well be here: then nothing is said of the pack.
function emptyPlace(layers: RecordLayer[], where: string): string[] {
  const unseen = layers.filter((l) => !isOn(l) || l.fault !== "").length;
  return [unseen === 0 ? say("here.nothing") : say("here.unseen", { n: unseen }), where];
}
