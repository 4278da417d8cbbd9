// The tools of an open pack.
import type { Extent } from "ol/extent";
import VectorLayer from "ol/layer/Vector";
import { say } from "../../shared/lib/words";
import { type GoTo, makeGoTo } from "../../shared/measure/goto";
import type { MeasureKind } from "../../shared/measure/measurement";
import { makeMeasureTool } from "../../shared/measure/measuretool";
import { makeOffsetTool } from "../../shared/measure/offsettool";
import { makePicker } from "../../shared/measure/picker";
import { makeSnapper } from "../../shared/measure/snap";
import { makeTieTool } from "../../shared/measure/tietool";
import { makeToolMenu } from "../../shared/shell/toolmenu";
import type { Position } from "../position/position";
import type { Session } from "./parts";

type Parts = Pick<Session, "about" | "base" | "mapView" | "records" | "sheet" | "toast" | "themePicker" | "crosshair">;

/** Fills the menu of tools; returns the one to go to coordinates. */
export function wireTools({ about, base, crosshair, mapView, records, sheet, toast, themePicker }: Parts, job: Extent, position: Position): GoTo {
  themePicker.onChange(() => {
    for (const l of mapView.map.getAllLayers()) if (l instanceof VectorLayer) l.changed();
    mapView.map.updateSize(); // larger text makes bars higher
  });
  const { units } = about;
  const measureTool = makeMeasureTool(mapView, base, crosshair, units);
  const goTo = makeGoTo({ mapView, sheet, toast, units, job, picture: base.extent });
  const snapper = makeSnapper(records, units);
  const picker = makePicker({ mapView, base, sheet, crosshair, snapper, units, job, position: position.spot });
  const tapes = { mapView, places: records.places, sheet, picker, units, job: about.name, pack: about.id, seal: about.seal ?? "", place: goTo.words };
  const ties = makeTieTool(tapes);
  const offsets = makeOffsetTool(tapes, snapper);
  const measure = (kind: MeasureKind) => () => {
    toast.hide();
    sheet.close();
    measureTool.start(kind);
  };
  makeToolMenu(sheet, [
    { title: say("tools.where"), words: say("tools.where_words"), start: () => sheet.open(position.page) },
    { title: say("tools.length"), words: say("tools.length_words"), start: measure("length") },
    { title: say("tools.area"), words: say("tools.area_words"), start: measure("area") },
    { title: say("tools.ties"), words: say("tools.ties_words"), start: () => sheet.open(ties) },
    { title: say("tools.offset"), words: say("tools.offset_words"), start: () => sheet.open(offsets) },
    { title: say("tools.place"), words: say("tools.place_words"), start: () => sheet.open(goTo.page) },
  ], themePicker.body);
  return goTo;
}
