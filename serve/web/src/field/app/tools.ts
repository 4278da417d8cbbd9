// The tools of an open pack.
import type { Extent } from "ol/extent";
import VectorLayer from "ol/layer/Vector";
import { say } from "../../shared/lib/words";
import { type GoTo, makeGoTo } from "../../shared/measure/goto";
import type { MeasureKind } from "../../shared/measure/measurement";
import { makeMeasureTool } from "../../shared/measure/measuretool";
import type { Page } from "../../shared/shell/sheet";
import { makeToolMenu } from "../../shared/shell/toolmenu";
import type { KeepSheet } from "../offline/keepsheet";
import type { Session } from "./parts";

type Parts = Pick<Session, "about" | "base" | "mapView" | "sheet" | "toast" | "themePicker">;

/** Fills the menu of tools; returns the one to go to coordinates. */
export function wireTools({ about, base, mapView, sheet, toast, themePicker }: Parts, job: Extent, positionPage: Page, keep: KeepSheet): GoTo {
  themePicker.onChange(() => {
    for (const l of mapView.map.getAllLayers()) if (l instanceof VectorLayer) l.changed();
    mapView.map.updateSize(); // larger text makes bars higher
  });
  const measureTool = makeMeasureTool(mapView, base, about.units);
  const goTo = makeGoTo({ mapView, sheet, toast, units: about.units, job, picture: base.extent });
  const measure = (kind: MeasureKind) => () => {
    toast.hide();
    sheet.close();
    measureTool.start(kind);
  };
  makeToolMenu(sheet, [
    { title: say("tools.where"), words: say("tools.where_words"), start: () => sheet.open(positionPage) },
    { title: say("tools.length"), words: say("tools.length_words"), start: measure("length") },
    { title: say("tools.area"), words: say("tools.area_words"), start: measure("area") },
    { title: say("tools.place"), words: say("tools.place_words"), start: () => sheet.open(goTo.page) },
  ], () => [...themePicker.body(), ...keep.section()]);
  return goTo;
}
