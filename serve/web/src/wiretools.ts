// The tools of an open pack, put together.
import VectorLayer from "ol/layer/Vector";
import { makeGoTo, type GoTo } from "./goto";
import { makeMeasuring } from "./measuring";
import type { Open } from "./pack";
import type { Page } from "./sheet";
import { makeTools } from "./tools";
import { say } from "./words";

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
    { title: say("tools.where"), words: say("tools.where_words"), start: () => sheet.open(whereAmI) },
    { title: say("tools.length"), words: say("tools.length_words"), start: begin("length") },
    { title: say("tools.area"), words: say("tools.area_words"), start: begin("area") },
    { title: say("tools.place"), words: say("tools.place_words"), start: () => sheet.open(goTo.page) },
  ], lights.body);
  return goTo;
}
