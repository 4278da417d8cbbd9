// Always on screen: scale, what a pixel is on the ground, enlargement, picture and its date.
import type View from "ol/View";
import { intersects } from "ol/extent";
import { getPointResolution } from "ol/proj";
import type { About, TileJSON } from "../lib/api";
import { byId, plainText } from "../lib/dom";
import { pixelText, scaleBar } from "../lib/units";
import { say } from "../lib/words";
import type { DrawnCount } from "../records/tiled";
import type { BaseMap } from "./basemap";

/** Longest scale bar, in pixels: narrow enough for a phone's one line. */
const maxBarPixels = 130;

/** Writes where the picture comes from and when it was taken. */
export function showCredit(about: About, t: TileJSON): void {
  const captured = about.source.captured;
  byId("captured").textContent = captured === "" ? say("screen.no_picture_date") : say("screen.picture_date", { date: captured });
  // A stranger's markup is shown as its text alone.
  byId("attribution").textContent =
    plainText(about.source.attribution || t.attribution || about.source.name) || say("screen.no_source");
}

/** Keeps scale and enlargement up to date with the view. */
export function showScale(view: View, base: BaseMap, about: About): void {
  const resolution = view.getResolution();
  const center = view.getCenter();
  if (resolution === undefined || center === undefined) return;
  // True at the middle of the screen: the projection stretches with latitude.
  const ground = getPointResolution("EPSG:3857", resolution, center, "m");
  const bar = scaleBar(ground, maxBarPixels, about.units);
  byId("bar").style.width = `${bar.width.toFixed(1)}px`;
  byId("bar-text").textContent = bar.text;
  byId("pixel").textContent = say("screen.pixel", { length: pixelText(ground, about.units) });
  const seen = view.calculateExtent();
  const off = !intersects(base.extent, seen);
  byId("no-picture").hidden = base.drawnAt(resolution) && !off;
  byId("no-picture").textContent = off ? say("screen.no_picture") : say("screen.zoom_for_picture");
  if (off) showEnlarged(0, 0);
  else showEnlarged(base.finest / resolution, base.coarsestEnlarged(seen, resolution) / resolution);
}

/** Tells that depths are left out of the view; past the last zoom only a tap is left. */
export function showHiddenDepths(some: boolean, deepest: boolean): void {
  byId("depths-hidden").hidden = !some;
  byId("depths-hidden").textContent = deepest ? say("screen.depths_tap") : say("screen.depths_zoom");
}

/** Tells that not every part of a large record is drawn, or not yet. */
export function showDrawnCount({ drawn, recorded, waiting }: DrawnCount, noZones: boolean): void {
  const n = (v: number) => v.toLocaleString("en");
  const all: string[] = [];
  if (waiting) all.push(say("screen.loading"));
  else if (drawn !== recorded) all.push(say("screen.thinned", { recorded: n(recorded), drawn: n(drawn) }));
  if (noZones) all.push(say("screen.zoom_for_zones"));
  byId("thinned").hidden = all.length === 0;
  byId("thinned").textContent = all.join("; ");
}

// Two reasons for enlargement: deeper than the pack goes, or a spot where the
// pack does not go as deep as elsewhere.
function showEnlarged(everywhere: number, somewhere: number): void {
  const badge = byId("enlarged");
  const most = Math.max(everywhere, somewhere);
  badge.hidden = most < 1.1;
  const times = most < 2.95 ? Number(most.toFixed(1)) : Math.round(most);
  badge.textContent = somewhere > everywhere ? say("screen.enlarged_up_to", { times }) : say("screen.enlarged", { times });
}
