// The tools of an open pack, put together.
import VectorLayer from "ol/layer/Vector";
import { makeGoTo, type GoTo } from "./goto";
import { makeMeasuring } from "./measuring";
import type { Open } from "./pack";
import type { Page } from "./sheet";
import { makeTools } from "./tools";

/** Makes the sheet of tools; gives what else the page needs of them. */
export function wireTools(open: Omit<Open, "goTo">, job: number[], whereAmI: Page): GoTo {
  const { about, base, chart, sheet, spot, lights } = open;
  lights.onChange(() => {
    for (const l of chart.map.getAllLayers()) if (l instanceof VectorLayer) l.changed();
    chart.map.updateSize(); // larger text makes bars higher
  });
  const measuring = makeMeasuring(chart, base, about.units);
  const goTo = makeGoTo({ chart, sheet, spot, units: about.units, job, picture: base.extent });
  const begin = (kind: "length" | "area") => () => {
    spot.hide();
    sheet.close();
    measuring.start(kind);
  };
  makeTools(sheet, [
    { title: "Where am I?", words: "this device or a receiver, and how far off it may be", start: () => sheet.open(whereAmI) },
    { title: "Measure a length", words: "along the ground, with a cross and a button", start: begin("length") },
    { title: "Measure an area", words: "of an outline that you mark", start: begin("area") },
    { title: "Coordinates", words: "go to a place, or read where the map is", start: () => sheet.open(goTo.page) },
  ], lights.body);
  return goTo;
}
