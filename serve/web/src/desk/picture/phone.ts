// What the phone will show: a small window of its screen, a pixel of it to a pixel of this one.
import OLMap from "ol/Map";
import View from "ol/View";
import DragPan from "ol/interaction/DragPan";
import VectorLayer from "ol/layer/Vector";
import type VectorSource from "ol/source/Vector";
import type { StyleFunction } from "ol/style/Style";
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

interface Phone {
  /** Shows a source; undefined = nothing. */
  show(row: SourceRow | undefined): void;
}

/** The window lies over the map at the bottom right, and goes with the middle of the map. */
export function mountPhone(desk: Desk): Phone {
  const screen = make("div", "screen");
  const words = make("small", "");
  const title = makeButton([""], () => open(box.dataset.open !== "true"));
  const dense = densities.map((d) => makeButton([`${d}×`], () => set(zoom, d)));
  dense.forEach((b, i) => b.setAttribute("aria-label", say("under.density", { n: densities[i] ?? 2 })));
  const nearer = makeButton(["+"], () => set(zoom + 1, density));
  const farther = makeButton(["−"], () => set(zoom - 1, density));
  nearer.setAttribute("aria-label", say("under.phone_in"));
  farther.setAttribute("aria-label", say("under.phone_out"));
  const box = make("section", "", title, screen, make("div", "row", farther, nearer, ...dense), words);
  box.id = "phone";
  const open = (on: boolean) => {
    box.dataset.open = String(on);
    title.setAttribute("aria-expanded", String(on));
  };
  // on a small screen the drawing's own window needs the room
  open(!matchMedia("(max-width: 1200px)").matches);
  title.className = "quiet";
  box.setAttribute("aria-label", say("under.phone"));
  box.hidden = true;
  desk.over.append(box);

  let row: SourceRow | undefined;
  let picture: Picture | null = null;
  let [zoom, density] = [19, 2]; // of the phone
  const view = new View({ center: [0, 0], zoom, constrainResolution: false });
  let map: OLMap | null = null;

  /** A map of the phone's own pixels, shown so that each fills one of this screen: marks are as large as on the phone. */
  function makeMap(): OLMap {
    const inner = make("div", "");
    const scale = density / devicePixelRatio;
    Object.assign(inner.style, { width: `${100 / scale}%`, height: `${100 / scale}%`, transformOrigin: "0 0", transform: `scale(${scale})` });
    screen.replaceChildren(inner);
    const layers = desk.map.getLayers().getArray().filter((l): l is VectorLayer => l instanceof VectorLayer && l.get("name") === "ground");
    const made = new OLMap({
      target: inner, controls: [], interactions: [new DragPan()], pixelRatio: density, view,
      layers: layers.map((l) => new VectorLayer({ source: l.getSource() as VectorSource, style: l.getStyle() as StyleFunction, zIndex: 10 })),
    });
    made.on("moveend", tell);
    return made;
  }

  /** The deepest zoom that the pack will have. */
  const deepest = () => planned.value?.zooms.slice(-1)[0]?.zoom ?? row?.zooms[1] ?? most;

  function set(z: number, d: number): void {
    [zoom, density] = [Math.min(Math.max(z, 3), most), d];
    view.setZoom(zoom);
    layer();
    dense.forEach((b, i) => b.setAttribute("aria-pressed", String(densities[i] === d)));
    nearer.disabled = zoom === most;
    tell();
  }

  function tell(): void {
    if (row === undefined) return;
    const units = desk.job?.units ?? "us";
    const [, y = 0] = view.getCenter() ?? [];
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
    const now = row === undefined ? "" : `${row.name} ${row.stamp} ${deepest()} ${desk.job?.id ?? ""} ${density}`;
    if (now === key) return tell();
    key = now;
    picture?.stop();
    map?.setTarget(undefined);
    map = picture = null;
    box.hidden = row === undefined;
    if (row === undefined) return;
    map = makeMap();
    const zooms: [number, number] = [row.zooms[0], Math.min(row.zooms[1], Math.max(deepest(), row.zooms[0]))];
    picture = makePicture(map, desk.api, row, desk.job?.id ?? "", density, zooms, () => {});
    map.addLayer(picture.layer);
    tell();
  }

  const follow = () => {
    view.setCenter(desk.map.getView().getCenter() ?? [0, 0]);
    tell();
  };
  desk.map.on("moveend", follow);
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
