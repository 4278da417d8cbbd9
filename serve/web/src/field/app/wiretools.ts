// The tools of an open pack, put together.
import VectorLayer from "ol/layer/Vector";
import { say } from "../../shared/lib/words";
import { type GoTo, makeGoTo } from "../../shared/measure/goto";
import { makeMeasureTool } from "../../shared/measure/measuretool";
import type { Page } from "../../shared/shell/sheet";
import { makeToolMenu } from "../../shared/shell/toolmenu";
import type { Session } from "./session";

/** Makes the sheet of tools; gives what else the page needs of them. */
export function wireTools(open: Omit<Session, "goTo">, job: number[], whereAmI: Page): GoTo {
  const { about, base, chart, sheet, spot, lights } = open;
  lights.onChange(() => {
    for (const l of chart.map.getAllLayers()) if (l instanceof VectorLayer) l.changed();
    chart.map.updateSize(); // larger text makes bars higher
  });
  const measuring = makeMeasureTool(chart, base, about.units);
  const goTo = makeGoTo({ chart, sheet, spot, units: about.units, job, picture: base.extent });
  const begin = (kind: "length" | "area") => () => {
    spot.hide();
    sheet.close();
    measuring.start(kind);
  };
  makeToolMenu(sheet, [
    { title: say("tools.where"), words: say("tools.where_words"), start: () => sheet.open(whereAmI) },
    { title: say("tools.length"), words: say("tools.length_words"), start: begin("length") },
    { title: say("tools.area"), words: say("tools.area_words"), start: begin("area") },
    { title: say("tools.place"), words: say("tools.place_words"), start: () => sheet.open(goTo.page) },
  ], lights.body);
  return goTo;
}
