// Where the jobs lie, while none is chosen: a pin with the name of each whose area is known.
import Feature from "ol/Feature";
import { createEmpty, extend, getCenter, isEmpty } from "ol/extent";
import Point from "ol/geom/Point";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { Circle, Fill, Stroke, Style, Text } from "ol/style";
import { byId } from "../../shared/lib/dom";
import { theme } from "../../shared/lib/theme";
import { font } from "../../shared/records/symbology";
import type { Desk, JobRow } from "../app/desk";
import { extentOf } from "../app/map";
import { folderName } from "../app/text";
import type { Facts } from "./row";

interface Pins {
  /** The jobs there are: the pins of others go. */
  jobs(rows: JobRow[]): void;
  /** What was found out of a job: its pin stands in the middle of its area. */
  learn(id: string, f: Facts): void;
}

/** How near a pin a press counts, in pixels. */
const near = 8;

export function mountPins(desk: Desk): Pins {
  const source = new VectorSource<Feature<Point>>();
  const layer = new VectorLayer({ source, zIndex: 12, declutter: true, style: (f) => styleOf(String(f.get("name"))) });
  layer.set("name", "pins");
  desk.map.addLayer(layer);
  const guide = byId("guide");
  const names = new Map<string, string>();
  let looked = false; // somebody has looked somewhere: the map is not moved any more
  for (const e of ["pointerdown", "wheel", "keydown"]) byId("stage").addEventListener(e, () => { looked = true; }, { passive: true });

  const draw = () => {
    const none = desk.job === null;
    layer.setVisible(none);
    guide.classList.toggle("low", none && source.getFeatures().length > 0);
  };
  /** Shows all pins, until somebody looks elsewhere. */
  const showAll = () => {
    if (looked || desk.job !== null) return;
    const all = source.getFeatures().reduce((e, f) => extend(e, f.get("extent")), createEmpty());
    if (!isEmpty(all)) desk.fit(all);
  };
  desk.map.on("click", (e) => {
    const drawn = document.querySelector("#draw:not([hidden])") !== null;
    if (desk.job !== null || drawn) return;
    const at = desk.map.forEachFeatureAtPixel(e.pixel, (f) => f.getId(), { layerFilter: (l) => l === layer, hitTolerance: near });
    if (at !== undefined) void desk.choose(String(at));
  });
  desk.onJob((job) => {
    looked ||= job !== null;
    draw();
  });
  return {
    jobs(rows) {
      names.clear();
      for (const r of rows) names.set(r.id, r.name || folderName(r.folder));
      for (const f of source.getFeatures()) {
        const name = names.get(String(f.getId()));
        if (name === undefined) source.removeFeature(f);
        else if (name !== f.get("name")) f.set("name", name);
      }
      draw();
    },
    learn(id, { bounds: [west, south, east, north] }) {
      if (west === undefined || south === undefined || east === undefined || north === undefined) return;
      const extent = extentOf([west, south, east, north], 0);
      const pin = source.getFeatureById(id) ?? new Feature<Point>();
      pin.setProperties({ geometry: new Point(getCenter(extent)), name: names.get(id) ?? "", extent });
      if (pin.getId() === undefined) {
        pin.setId(id);
        source.addFeature(pin);
      }
      draw();
      showAll();
    },
  };
}

function styleOf(name: string): Style {
  const { ink, paper } = theme();
  return new Style({
    image: new Circle({ radius: 6, fill: new Fill({ color: ink }), stroke: new Stroke({ color: paper, width: 2 }), declutterMode: "none" }),
    text: new Text({ text: name, font: `600 13px ${font}`, offsetY: -16, fill: new Fill({ color: ink }), stroke: new Stroke({ color: paper, width: 4 }) }),
  });
}
