// The area of the chosen job and its margin, as the phone will show them.
import GeoJSON from "ol/format/GeoJSON";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { edgeStyles } from "../../shared/map/digarea";
import type { Desk } from "../app/desk";

/** Parts that only the printed brief uses. */
const paperOnly: unknown[] = ["route", "apart"];

export function drawGround(desk: Desk): void {
  const source = new VectorSource();
  const layer = new VectorLayer({ source, zIndex: 10, style: (f) => edgeStyles(f.get("part") === "margin" ? "margin" : "area") });
  layer.set("name", "ground"); // by which other parts find it
  desk.map.addLayer(layer);
  desk.onJob((job) => {
    source.clear();
    if (!job?.ground) return;
    const all = new GeoJSON().readFeatures(job.ground, { featureProjection: "EPSG:3857" });
    source.addFeatures(all.filter((f) => !paperOnly.includes(f.get("part"))));
  });
}
