// An open pack: its map, its records, and the wiring of the page to them.
import type { About, LineSymbols, Overlay, PackEntry, StateSymbol, TileJSON, Utility } from "../../shared/lib/api";
import { byId, make, makeButton } from "../../shared/lib/dom";
import { getJSON } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { makeRecordsPage } from "../../shared/list/recordspage";
import { makeBaseMap, makeSwitchedBase } from "../../shared/map/basemap";
import { watchJob } from "../../shared/map/jobpin";
import { loadDigArea } from "../../shared/map/digarea";
import { firstPicture } from "../../shared/map/firstpicture";
import { watchHidden } from "../../shared/map/hidden";
import { makeMapView, type MapView } from "../../shared/map/mapview";
import { showScale } from "../../shared/map/readout";
import { makeRecordSet } from "../../shared/map/recordset";
import { formatViewHash, parseViewHash, saveView, type ViewPosition } from "../../shared/map/viewhash";
import { makeCrosshair } from "../../shared/measure/crosshair";
import { isOn } from "../../shared/records/layer";
import { setStateSymbols } from "../../shared/records/statesymbols";
import { setLineSymbols } from "../../shared/records/symbology";
import { layersBody } from "../../shared/sheets/layersheet";
import type { Page } from "../../shared/shell/sheet";
import { cautions, makeStatusLine } from "../job/statusline";
import { makeKeepSheet } from "../offline/keepsheet";
import { positionRows } from "../position/legendrows";
import { makePosition } from "../position/position";
import { makeInspector } from "./inspect";
import { makePictures, type Pictures } from "./pictures";
import type { PageParts, Session } from "./parts";
import { wireTools } from "./tools";

/** Opens one of the packs and draws it; resolves when picture and records are on screen. `others` offers the other packs. */
export async function openPack(entry: PackEntry, packs: PackEntry[], position: ViewPosition | null, parts: PageParts, others: (() => void) | null): Promise<Session> {
  const { errorBar, sheet, events, connection, notices } = parts;
  const about = await getJSON<About>(entry.about, say("load.job"));
  const status = makeStatusLine(entry, about, parts);
  const [tilejson, area, list] = await Promise.all([
    getJSON<TileJSON>(about.tilejson, say("load.picture")),
    loadDigArea(about.area),
    getJSON<{ overlays: Overlay[]; styles?: LineSymbols; states?: StateSymbol[]; utilities?: Utility[] }>(about.overlays, say("load.records")),
  ]);
  setLineSymbols(list.styles);
  setStateSymbols(list.states);

  const first = makeBaseMap(tilejson, about, window.devicePixelRatio, area.wanted);
  const base = makeSwitchedBase(first);
  const mapView = makeMapView(area.extent, base);
  if (position !== null) mapView.moveTo(position);
  const rescale = oncePerFrame(() => showScale(mapView.view, base, about, notices));
  const pictures = makePictures({ entry, about, tilejson, first }, packs, {
    base, map: mapView.map, wanted: area.wanted, verdicts: parts.verdicts, report: errorBar.show,
    changed() {
      const chosen = 'input[name="picture"]:checked';
      const focused = document.activeElement?.matches(chosen) === true;
      rescale();
      sheet.refresh();
      if (focused) document.querySelector<HTMLElement>(chosen)?.focus();
    },
  });
  wireReadout(about, pictures, parts);
  base.listen({
    // Out of reach of the laptop that is shown already, and the picture reloads by itself.
    failed: () => void connection.check().then((reached) => reached && errorBar.show(say("load.picture_part"), base.reload)),
    enlarged: rescale,
  });
  await firstPicture(mapView.map, base.layer); // a slow phone needs a tenth of a second for the rest

  mapView.map.addLayer(area.layer);
  const records = makeRecordSet(mapView.map, about, list.overlays, { report: errorBar.show, loaded: sheet.refresh });
  const here = makePosition({ mapView, ground: area.wanted, units: about.units, sheet, events, old: status.positionOld, places: records.places });
  const crosshair = makeCrosshair(mapView);
  const goTo = wireTools({ ...parts, about, base, mapView, records, crosshair }, area.extent, here);
  const session: Session = {
    ...parts, about, status, base, mapView, records, goTo, crosshair, here, job: area.extent, utilities: list.utilities ?? [],
    added: { found: () => [], legend: () => [] },
  };
  const keep = makeKeepSheet(entry, about, () => pictures.choice().length > 0);
  status.addSection(keep.section);
  status.addSection(() => [
    wideButton(say("tools.where"), say("tools.where_words"), () => sheet.open(here.page)),
    ...(others ? [wideButton(say("page.other_jobs"), say("job.which"), others)] : []),
  ]);

  rescale();
  mapView.view.on("propertychange", rescale);
  mapView.map.on("change:size", rescale);
  wireViewHash(mapView, entry.id);
  wireLayersSheet(session, pictures);
  const recordsPage = makeRecordsPage({ ...session, area: area.dug });
  byId("show-records").onclick = () => sheet.toggle(recordsPage, byId("show-records"));
  wireMapButtons(session);
  watchHidden(mapView, records, notices);
  watchJob(mapView);
  await records.load();
  keep.onCopy(status.copy);
  wireConnection(session, entry, pictures);
  await new Promise<void>((drawn) => {
    mapView.map.once("rendercomplete", () => drawn());
    mapView.map.render();
  });
  return session;
}

function wideButton(title: string, words: string, press: () => void): Node {
  return make("div", "jobs", makeButton([make("b", "", title), make("span", "", words)], press));
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

/** The line of what is always true opens all cautions and the credit of the picture. */
function wireReadout(about: About, pictures: Pictures, { sheet }: PageParts): void {
  const page: Page = { title: say("page.cautions"), body: () => [...cautions(about), make("h3", "", say("page.credit")), make("p", "", pictures.credit())] };
  pictures.credit();
  byId("caution").onclick = () => sheet.toggle(page, byId("caution"));
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

function wireLayersSheet({ about, added, records, sheet, status, verdicts }: Session, pictures: Pictures): void {
  const { layers, derived, redraw } = records;
  const changed = () => {
    redraw();
    const off = layers.filter((l) => !isOn(l)).length + derived.layers.filter((l) => !l.layer.getVisible()).length;
    byId("show-layers").textContent = off === 0 ? say("page.layers") : say("page.layers_off", { n: off });
  };
  const page: Page = { title: say("page.layers"), body: () => layersBody(
    about, layers, derived, { about: pictures.about(), verdict: pictures.verdict() ?? status.verdict(), choice: pictures.choice() }, [...added.legend(), ...positionRows()], changed,
  ) };
  sheet.setDefault(page);
  verdicts.on(() => sheet.redrawPage(page));
  byId("show-layers").onclick = () => sheet.toggle(page, byId("show-layers"));
}

function wireMapButtons(session: Session): void {
  const { mapView } = session;
  const inspect = makeInspector(session);
  byId("whole-job").onclick = mapView.wholeJob;
  byId("zoom-in").onclick = () => mapView.zoomBy(1);
  byId("zoom-out").onclick = () => mapView.zoomBy(-1);
  mapView.map.on("singleclick", (e) => inspect(e.pixel, e.coordinate));
  byId("map").addEventListener("keydown", (e) => {
    const center = mapView.view.getCenter();
    if (e.key === "Enter" && center) inspect(mapView.middle(), center);
  });
}

/** Stops loading when the server has another version of the pack, and loads the rest when it is back in reach. */
function wireConnection({ base, records, errorBar, connection, status, verdicts }: Session, entry: PackEntry, pictures: Pictures): void {
  connection.watch({
    entry, clock: status.look,
    exchanged() {
      base.stop();
      records.stop();
    },
    listed(packs) {
      verdicts.listed(packs);
      pictures.listed(packs);
    },
    back() {
      errorBar.hide();
      base.reload();
      if (records.incomplete()) void records.load();
    },
  });
}
