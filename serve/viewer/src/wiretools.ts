// The tools of an open pack, put together.
import VectorLayer from "ol/layer/Vector";
import type { Open } from "./pack";
import { makeTools } from "./tools";

export function wireTools(open: Open): void {
  const { chart, sheet, lights } = open;
  lights.onChange(() => {
    for (const l of chart.map.getAllLayers()) if (l instanceof VectorLayer) l.changed();
    chart.map.updateSize(); // larger text makes bars higher
  });
  makeTools(sheet, [], lights.body);
}
