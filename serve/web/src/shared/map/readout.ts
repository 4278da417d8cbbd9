// The readout, always on screen: scale, ground size of a pixel, enlargement, source and date of the
// picture. What is so only here and now is a notice.
import type View from "ol/View";
import { intersects } from "ol/extent";
import { getPointResolution } from "ol/proj";
import type { About, TileJSON } from "../lib/api";
import { byId, plainText, setText } from "../lib/dom";
import { pixelText, scaleBar } from "../lib/units";
import { say } from "../lib/words";
import type { Notices } from "../shell/notice";
import type { BaseMap } from "./basemap";
import "./readout.css";

/** The longest scale bar, in pixels: leaves room beside it on a small phone. */
const maxBarPixels = 76;

/** Shows the source and the date of the picture; gives both in full. */
export function showCredit(about: About, t: TileJSON): string {
  const date = about.source.captured;
  const captured = about.drawn
    ? date === "" ? say("drawn.no_date") : say("drawn.date", { date })
    : date === "" ? say("screen.no_picture_date") : say("screen.picture_date", { date });
  // Markup of an untrusted file is shown as plain text.
  const attribution = plainText(about.source.attribution || t.attribution || about.source.name) || say("screen.no_source");
  byId("captured").textContent = captured;
  byId("attribution").textContent = attribution;
  return `${captured} · ${attribution}`;
}

/**
 * The ground size of a pixel that may be told, and how many times the picture is enlarged. Resolutions are those
 * of the screen, of the finest tiles, and of the coarsest enlarged ones in view (0 for none); `ground` is meters a
 * projected meter.
 */
export function pixelTold(screen: number, finest: number, coarsest: number, ground: number): { metres: number; times: number; somewhere: boolean } {
  const picture = Math.max(finest, coarsest);
  const most = picture / screen;
  const times = most < 1.1 ? 1 : most < 2.95 ? Number(most.toFixed(1)) : Math.round(most);
  // Enlarging a picture adds nothing: a pixel of the screen is then no finer than one of the finest picture.
  return { metres: Math.max(screen, finest) * ground, times, somewhere: coarsest > finest };
}

/** Shows scale and enlargement of the view. */
export function showScale(view: View, base: BaseMap, about: About, notices: Notices): void {
  const resolution = view.getResolution();
  const center = view.getCenter();
  if (resolution === undefined || center === undefined) return;
  // True at the center of the map: the projection stretches with latitude.
  const ground = getPointResolution("EPSG:3857", resolution, center, "m");
  const bar = scaleBar(ground, maxBarPixels, about.units);
  byId("bar").style.width = `${bar.width.toFixed(1)}px`;
  setText(byId("bar-text"), bar.text);
  const seen = view.calculateExtent();
  const off = !intersects(base.extent, seen);
  const told = pixelTold(resolution, off ? 0 : base.finest, off ? 0 : base.coarsestEnlarged(seen, resolution), ground / resolution);
  const pixel = say("screen.pixel", { length: pixelText(told.metres, about.units) });
  const { times } = told;
  const enlarged = times === 1 ? "" : told.somewhere ? say("screen.enlarged_up_to", { times }) : say("screen.enlarged", { times });
  setText(byId("pixel"), enlarged === "" ? pixel : say("screen.pixel_enlarged", { pixel, enlarged }));
  byId("pixel").dataset.times = String(times);
  const text = off ? say("screen.no_picture") : say("screen.zoom_for_picture");
  const press = () => (off ? byId("whole-job") : byId("zoom-in")).click();
  notices.set("no-picture", base.drawnAt(resolution) && !off ? null : { text, short: text, press });
}
