// The readout, always on screen: scale, ground size of a pixel, enlargement, source and date of the picture.
import type View from "ol/View";
import { intersects } from "ol/extent";
import { getPointResolution } from "ol/proj";
import type { About, TileJSON } from "../lib/api";
import { byId, plainText } from "../lib/dom";
import { pixelText, scaleBar } from "../lib/units";
import { say } from "../lib/words";
import type { DrawnCount } from "../records/tiled";
import type { BaseMap } from "./basemap";

/** The longest scale bar, in pixels: fits on one line of a phone. */
const maxBarPixels = 130;

/** Shows the source and the date of the picture. */
export function showCredit(about: About, t: TileJSON): void {
  const captured = about.source.captured;
  byId("captured").textContent = captured === "" ? say("screen.no_picture_date") : say("screen.picture_date", { date: captured });
  // Markup of an untrusted file is shown as plain text.
  byId("attribution").textContent =
    plainText(about.source.attribution || t.attribution || about.source.name) || say("screen.no_source");
}

/** Shows scale and enlargement of the view. */
export function showScale(view: View, base: BaseMap, about: About): void {
  const resolution = view.getResolution();
  const center = view.getCenter();
  if (resolution === undefined || center === undefined) return;
  // True at the center of the screen: the projection stretches with latitude.
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

/** Shows whether depths are hidden; at the deepest zoom the notice suggests a tap. */
export function showHiddenDepths(some: boolean, deepest: boolean): void {
  byId("depths-hidden").hidden = !some;
  byId("depths-hidden").textContent = deepest ? say("screen.depths_tap") : say("screen.depths_zoom");
}

/** Shows whether some features of tiled records are not drawn, or not yet. */
export function showDrawnCount({ drawn, recorded, waiting }: DrawnCount, noZones: boolean): void {
  const n = (v: number) => v.toLocaleString("en");
  const all: string[] = [];
  if (waiting) all.push(say("screen.loading"));
  else if (drawn !== recorded) all.push(say("screen.thinned", { recorded: n(recorded), drawn: n(drawn) }));
  if (noZones) all.push(say("screen.zoom_for_zones"));
  byId("thinned").hidden = all.length === 0;
  byId("thinned").textContent = all.join("; ");
}

// Tiles are enlarged everywhere past the deepest zoom, and where the pack is less deep than elsewhere.
function showEnlarged(everywhere: number, somewhere: number): void {
  const badge = byId("enlarged");
  const most = Math.max(everywhere, somewhere);
  badge.hidden = most < 1.1;
  const times = most < 2.95 ? Number(most.toFixed(1)) : Math.round(most);
  badge.textContent = somewhere > everywhere ? say("screen.enlarged_up_to", { times }) : say("screen.enlarged", { times });
}
