// What the phone will show: a small window of its screen, a pixel of it to a pixel of this one.
import OLMap from "ol/Map";
import View from "ol/View";
import DragPan from "ol/interaction/DragPan";
import { make, makeButton, setText } from "../../shared/lib/dom";
import { halfWorld } from "../../shared/lib/mercator";
import { pixelText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { planned } from "../app/cell";
import type { Desk } from "../app/desk";
import type { SourceRow } from "./sources";
import { makePicture, type Picture } from "./tiles";

/** The pixels of phones to one of a page. */
const densities = [2, 3];
const most = 24;

export interface Phone {
  /** Shows a source; undefined = nothing. */
  show(row: SourceRow | undefined): void;
}

/** The window lies over the map at the bottom right, and goes with the middle of the map. */
export function mountPhone(desk: Desk): Phone {
  const screen = make("div", "screen");
  const [title, words] = [make("b", ""), make("small", "")];
  const dense = densities.map((d) => makeButton([`${d}×`], () => set(zoom, d)));
  dense.forEach((b, i) => b.setAttribute("aria-label", say("under.density", { n: densities[i] ?? 2 })));
  const nearer = makeButton(["+"], () => set(zoom + 1, density));
  const farther = makeButton(["−"], () => set(zoom - 1, density));
  nearer.setAttribute("aria-label", say("under.phone_in"));
  farther.setAttribute("aria-label", say("under.phone_out"));
  const box = make("section", "", screen, title, make("div", "row", farther, nearer, ...dense), words);
  box.id = "phone";
  box.setAttribute("aria-label", say("under.phone"));
  box.hidden = true;
  desk.over.append(box);

  let row: SourceRow | undefined;
  let picture: Picture | null = null;
  let [zoom, density] = [19, 2];
  const map = new OLMap({ target: screen, controls: [], interactions: [new DragPan()], layers: [], pixelRatio: devicePixelRatio, view: new View({ center: [0, 0], resolution: 1 }) });

  /** The deepest zoom that the pack will have. */
  const deepest = () => planned.value?.zooms.slice(-1)[0]?.zoom ?? row?.zooms[1] ?? most;

  function set(z: number, d: number): void {
    [zoom, density] = [Math.min(Math.max(z, 3), most), d];
    // a pixel of the phone fills one of this screen
    map.getView().setResolution(((2 * halfWorld) / 256 / 2 ** zoom / density) * devicePixelRatio);
    dense.forEach((b, i) => b.setAttribute("aria-pressed", String(densities[i] === d)));
    nearer.disabled = zoom === most;
    tell();
  }

  function tell(): void {
    if (row === undefined) return;
    const units = desk.job?.units ?? "us";
    const [, y = 0] = map.getView().getCenter() ?? [];
    const ground = (z: number) => (2 * halfWorld) / 256 / 2 ** z / Math.cosh(y / 6378137);
    const onPhone = ground(zoom) / density;
    const finest = Math.max(ground(deepest()) * (256 / row.tile_size), row.ground_resolution_m);
    setText(title, say("under.phone_zoom", { zoom }));
    const lines = [say("under.phone_pixel", { size: pixelText(onPhone, units) })];
    lines.push(finest > onPhone * 1.01 ? say("under.phone_magnified", { size: pixelText(finest, units) }) : say("under.phone_sharp"));
    lines.push(say("under.phone_source", { source: row.attribution || row.name, when: row.captured || say("under.unknown") }));
    setText(words, lines.join(" "));
  }

  let key = "";
  function layer(): void {
    const now = row === undefined ? "" : `${row.name} ${row.stamp} ${deepest()} ${desk.job?.id ?? ""}`;
    if (now === key) return tell();
    key = now;
    if (picture !== null) {
      map.removeLayer(picture.layer);
      picture.stop();
      picture = null;
    }
    box.hidden = row === undefined;
    if (row === undefined) return;
    map.updateSize();
    const zooms: [number, number] = [row.zooms[0], Math.min(row.zooms[1], Math.max(deepest(), row.zooms[0]))];
    picture = makePicture(map, desk.api, row, desk.job?.id ?? "", devicePixelRatio, zooms, () => {});
    map.addLayer(picture.layer);
    set(Math.min(zoom, most), density);
  }

  const follow = () => {
    map.getView().setCenter(desk.map.getView().getCenter() ?? [0, 0]);
    tell();
  };
  desk.map.on("moveend", follow);
  map.on("moveend", tell);
  planned.on(layer);
  follow();
  set(zoom, density);
  return {
    show(now) {
      row = now;
      layer();
      follow();
    },
  };
}
