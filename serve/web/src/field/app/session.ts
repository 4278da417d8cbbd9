// An open pack: its map, its records, and the wiring of the page to them.
import type { About, LineSymbols, Overlay, PackEntry, StateSymbol, TileJSON } from "../../shared/lib/api";
import { byId, make } from "../../shared/lib/dom";
import { getJSON } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { makeRecordsPage } from "../../shared/list/recordspage";
import { makeBaseMap } from "../../shared/map/basemap";
import { loadDigArea } from "../../shared/map/digarea";
import { firstPicture } from "../../shared/map/firstpicture";
import { watchHiddenMarks } from "../../shared/map/hiddenlabels";
import { makeMapView, type MapView } from "../../shared/map/mapview";
import { showCredit, showDrawnCount, showHiddenDepths, showScale } from "../../shared/map/readout";
import { makeRecordSet } from "../../shared/map/recordset";
import { formatViewHash, parseViewHash, saveView, type ViewPosition } from "../../shared/map/viewhash";
import { isOn } from "../../shared/records/layer";
import { setStateSymbols } from "../../shared/records/statesymbols";
import { setLineSymbols } from "../../shared/records/symbology";
import { layersBody, recordsCaution } from "../../shared/sheets/layersheet";
import type { Page, Sheet } from "../../shared/shell/sheet";
import { showHeader } from "../job/header";
import { makeTicket } from "../job/ticket";
import { showVerdict } from "../job/verdict";
import { makePosition } from "../position/position";
import { makeInspector } from "./inspect";
import type { PageParts, Session } from "./parts";
import { wireTools } from "./tools";

/** Opens a pack and draws it; resolves when picture and records are on screen. */
export async function openPack(entry: PackEntry, position: ViewPosition | null, parts: PageParts): Promise<MapView> {
  const { errorBar, sheet, events, connection, verdicts } = parts;
  const about = await getJSON<About>(entry.about, say("load.job"));
  showHeader(about);
  const verdict = showVerdict(entry, verdicts, sheet);
  showCautions(about, sheet);
  const [tilejson, area, list] = await Promise.all([
    getJSON<TileJSON>(about.tilejson, say("load.picture")),
    loadDigArea(about.area),
    getJSON<{ overlays: Overlay[]; styles?: LineSymbols; states?: StateSymbol[] }>(about.overlays, say("load.records")),
  ]);
  showCredit(about, tilejson);
  setLineSymbols(list.styles);
  setStateSymbols(list.states);

  const base = makeBaseMap(tilejson, about.tile_size, window.devicePixelRatio, area.wanted);
  const mapView = makeMapView(area.extent, base);
  if (position !== null) mapView.moveTo(position);
  const rescale = oncePerFrame(() => showScale(mapView.view, base, about));
  base.listen({
    // Out of reach of the laptop that is shown already, and the picture reloads by itself.
    failed: () => void connection.check().then((reached) => reached && errorBar.show(say("load.picture_part"), base.reload)),
    enlarged: rescale,
  });
  await firstPicture(mapView.map, base.layer); // a slow phone needs a tenth of a second for the rest

  mapView.map.addLayer(area.layer);
  const records = makeRecordSet(mapView.map, about, list.overlays, { report: errorBar.show, loaded: sheet.refresh });
  const positionPage = makePosition(mapView, area.wanted, about.units, sheet, events);
  const goTo = wireTools({ ...parts, about, base, mapView }, area.extent, positionPage);
  const session: Session = { ...parts, about, verdict, base, mapView, records, goTo };

  rescale();
  mapView.view.on("propertychange", rescale);
  mapView.map.on("change:size", rescale);
  wireReadout(session);
  wireViewHash(mapView, entry.id);
  wireLayersSheet(session);
  const recordsPage = makeRecordsPage({ ...session, area: area.dug });
  byId("show-records").onclick = () => sheet.toggle(recordsPage);
  wireMapButtons(session);
  watchHiddenMarks(mapView, records.derived);
  const updateTicket = makeTicket(about, connection.ahead);
  await records.load();
  wireConnection(session, entry.id, updateTicket);
  await new Promise<void>((drawn) => {
    mapView.map.once("rendercomplete", () => drawn());
    mapView.map.render();
  });
  return mapView;
}

/** Gives a function that runs `f` at the next frame, once however often it is called before. */
function oncePerFrame(f: () => void): () => void {
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

function wireReadout({ mapView: { map, view }, records }: Session): void {
  map.on("rendercomplete", () => {
    const resolution = view.getResolution() ?? 0;
    const extent = view.calculateExtent();
    showDrawnCount(records.tiled.drawn(extent), records.tiledDerived?.tooFar(resolution) === true);
    showHiddenDepths(records.depths.someHidden(extent, resolution), resolution <= view.getMinResolution() * 1.01);
  });
}

/** Keeps the part of the address after "#" and the map at the same place. */
function wireViewHash(mapView: MapView, id: string): void {
  // Delayed: some browsers refuse a page that changes its address too often.
  let writing: ReturnType<typeof setTimeout> | undefined;
  mapView.map.on("moveend", () => {
    clearTimeout(writing);
    writing = setTimeout(() => {
      history.replaceState(null, "", formatViewHash({ pack: id, at: mapView.position() }));
      saveView(id, mapView.position());
    }, 400);
  });
  window.addEventListener("hashchange", () => {
    const hash = parseViewHash(location.hash);
    if (hash.pack !== id) location.reload();
    else if (hash.at !== null) mapView.moveTo(hash.at);
  });
}

function wireLayersSheet({ about, records, sheet, verdict, verdicts }: Session): void {
  const { layers, derived, depths } = records;
  const changed = () => {
    depths.refresh();
    derived.redraw();
    const off = layers.filter((l) => !isOn(l)).length + derived.layers.filter((l) => !l.layer.getVisible()).length;
    byId("show-layers").textContent = off === 0 ? say("page.layers") : say("page.layers_off", { n: off });
  };
  const page: Page = { title: say("page.layers"), body: () => layersBody(about, layers, derived, verdict(), changed) };
  sheet.setDefault(page);
  verdicts.on(() => sheet.redrawPage(page));
  byId("show-layers").onclick = () => sheet.toggle(page);
}

function wireMapButtons(session: Session): void {
  const { mapView } = session;
  const inspect = makeInspector(session);
  byId("whole-job").onclick = mapView.wholeJob;
  byId("zoom-in").onclick = () => mapView.zoomBy(1);
  byId("zoom-out").onclick = () => mapView.zoomBy(-1);
  mapView.map.on("singleclick", (e) => inspect(e.pixel, e.coordinate));
  byId("map").addEventListener("keydown", (e) => {
    const size = mapView.map.getSize();
    const center = mapView.view.getCenter();
    if (e.key === "Enter" && size && center) inspect([(size[0] ?? 0) / 2, (size[1] ?? 0) / 2], center);
  });
}

/** Stops loading when the server has another version of the pack, and loads the rest when it is back in reach. */
function wireConnection({ base, records, errorBar, connection, events, verdicts }: Session, id: string, clock: () => void): void {
  connection.watch({
    id, clock,
    exchanged() {
      base.stop();
      records.stop();
    },
    listed: verdicts.listed,
    back() {
      errorBar.hide();
      base.reload();
      if (records.incomplete()) void records.load();
    },
  });
  events.on("packs", () => void connection.check());
  events.on("link", (up) => up !== true && void connection.check()); // sooner than by its timer
}
