// The tiles that will be wanted, and the margin while one draws.
import GeoJSON from "ol/format/GeoJSON";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import Stroke from "ol/style/Stroke";
import Style from "ol/style/Style";
import { cachedByTheme, theme } from "../../shared/lib/theme";
import { edgeStyles } from "../../shared/map/digarea";
import { drawing, planned } from "../app/cell";
import type { Desk } from "../app/desk";

const tileStyles = cachedByTheme(() => [
  new Style({ stroke: new Stroke({ color: theme().paper, width: 4 }) }),
  new Style({ stroke: new Stroke({ color: theme().ink, width: 1.5, lineDash: [2, 4] }) }),
]);

export function drawOutline(desk: Desk): void {
  const source = new VectorSource();
  const layer = new VectorLayer({ source, zIndex: 9, style: (f) => (f.get("part") === "margin" ? edgeStyles("margin") : tileStyles("")) });
  layer.set("name", "wanted");
  desk.map.addLayer(layer);
  const format = new GeoJSON();
  const draw = () => {
    source.clear();
    if (planned.value === null) return;
    // the job's own margin is drawn with its area
    source.addFeatures(format.readFeatures(planned.value.outline, { featureProjection: "EPSG:3857" }).filter((f) => drawing.value !== null || f.get("part") !== "margin"));
  };
  planned.on(draw);
}
