// One open pack: its map, its layers, and the wiring of the page to them.
import { makeBase, type Base } from "./base";
import { makeChart, type Chart } from "./chart";
import { detailsBody } from "./details";
import { byId, make } from "./dom";
import { getJSON } from "./get";
import { showHeader } from "./header";
import { fixedStatement, layersBody } from "./layers";
import { fill, isOn, loadArea, makeLayer, type Layer } from "./overlays";
import { readPlace, writePlace, type At } from "./place";
import { showCredit, showScale } from "./readout";
import type { Page, Sheet } from "./sheet";
import type { Strip } from "./strip";
import type { About, Overlay, PackEntry, TileJSON } from "./types";

/** What the page shares with an open pack. */
export interface Frame {
  strip: Strip;
  sheet: Sheet;
}

interface Open extends Frame {
  about: About;
  base: Base;
  chart: Chart;
  layers: Layer[];
}

/** Opens a pack and draws it; resolves with the chart when picture and records are on screen. */
export async function openPack(entry: PackEntry, at: At | null, frame: Frame): Promise<Chart> {
  const about = await getJSON<About>(entry.about, "The job");
  showHeader(about);
  showCautions(about, frame.sheet);
  const [tilejson, area, list] = await Promise.all([
    getJSON<TileJSON>(about.tilejson, "The picture"),
    loadArea(about.area),
    getJSON<{ overlays: Overlay[] }>(about.overlays, "The list of records"),
  ]);
  showCredit(about, tilejson);

  let rescale = () => undefined as void;
  const base: Base = makeBase(tilejson, about.tile_size, window.devicePixelRatio, {
    failed: () => frame.strip.show(
      "Part of the picture did not load. Is this device still on the job's hotspot?", base.again),
    enlarged: () => rescale(),
  });
  const layers = list.overlays.map((o, i) => makeLayer(o, about.units, i));
  const chart = makeChart(area.extent, base, [area.layer, ...layers.flatMap((l) => l.parts)]);
  const open: Open = { ...frame, about, base, chart, layers };
  rescale = once(() => showScale(chart.view, base, about));

  if (at !== null) chart.go(at);
  wireView(open, entry.id, rescale);
  wireControls(open);
  await loadRecords(open);
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

async function loadRecords(open: Open): Promise<void> {
  await Promise.all(open.layers.filter((l) => l.fault !== "").map(fill));
  open.sheet.refresh();
  const faults = open.layers.filter((l) => l.fault !== "");
  const first = faults[0];
  if (first === undefined) return;
  const more = faults.length > 1 ? ` ${faults.length - 1} more not drawn either.` : "";
  open.strip.show(`${first.fault}${more}`, () => void loadRecords(open));
}

function showCautions(about: About, sheet: Sheet): void {
  const cautions = about.cautions.length > 0 ? about.cautions : [fixedStatement];
  byId("caution-words").textContent = cautions[0] ?? "";
  byId("caution-more").textContent = cautions.length > 1 ? `all ${cautions.length}` : "";
  const page: Page = {
    title: "Cautions",
    body: () => [make("ol", "cautions", ...cautions.map((c) => make("li", "", c)))],
  };
  byId("caution").hidden = false;
  byId("caution").onclick = () => sheet.open(page);
}

function wireView(open: Open, id: string, rescale: () => void): void {
  const { chart } = open;
  rescale();
  chart.view.on("propertychange", rescale);
  chart.map.on("change:size", rescale);
  // Late and seldom: some browsers refuse a page that writes its address too often.
  let writing: ReturnType<typeof setTimeout> | undefined;
  chart.map.on("moveend", () => {
    clearTimeout(writing);
    writing = setTimeout(() => history.replaceState(null, "", writePlace({ pack: id, at: chart.at() })), 400);
  });
  window.addEventListener("hashchange", () => {
    const place = readPlace(location.hash);
    if (place.pack !== id) location.reload();
    else if (place.at !== null) chart.go(place.at);
  });
}

function wireControls(open: Open): void {
  const { chart, layers, sheet, about } = open;
  const layersPage: Page = { title: "Layers", body: () => layersBody(about, layers, countHidden) };
  const countHidden = () => {
    const off = layers.filter((l) => !isOn(l)).length;
    byId("show-layers").textContent = off === 0 ? "Layers" : `Layers (${off} off)`;
  };
  sheet.rest(layersPage);
  byId("show-layers").onclick = () => (sheet.shows(layersPage) ? sheet.close() : sheet.open(layersPage));
  byId("whole-job").onclick = chart.wholeJob;
  byId("zoom-in").onclick = () => chart.zoomBy(1);
  byId("zoom-out").onclick = () => chart.zoomBy(-1);
  chart.map.on("singleclick", (e) => inspect(open, e.pixel));
  byId("map").addEventListener("keydown", (e) => {
    const size = chart.map.getSize();
    if (e.key === "Enter" && size) inspect(open, [(size[0] ?? 0) / 2, (size[1] ?? 0) / 2]);
  });
}

function inspect(open: Open, pixel: number[]): void {
  const found = open.chart.hits(pixel, open.layers);
  open.chart.choose(found.map((h) => h.feature));
  const first = found[0];
  if (first === undefined) {
    open.sheet.close();
    return;
  }
  open.sheet.open({
    title: found.length > 1 ? `${found.length} things here` : "What is recorded",
    body: () => detailsBody(found, open.about.units),
  });
  open.chart.reveal(pixel, open.sheet.covers());
}
