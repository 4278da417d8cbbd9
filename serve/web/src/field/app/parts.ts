// What the parts of an open pack share.
import type { Extent } from "ol/extent";
import type { About, Utility } from "../../shared/lib/api";
import type { BaseMap } from "../../shared/map/basemap";
import type { MapView } from "../../shared/map/mapview";
import type { RecordSet } from "../../shared/map/recordset";
import type { Crosshair } from "../../shared/measure/crosshair";
import type { GoTo } from "../../shared/measure/goto";
import type { Found } from "../../shared/sheets/found";
import type { LegendRow } from "../../shared/sheets/legend";
import type { ErrorBar } from "../../shared/shell/errorbar";
import type { Notices } from "../../shared/shell/notice";
import type { Sheet } from "../../shared/shell/sheet";
import type { ThemePicker } from "../../shared/shell/themepicker";
import type { Toast } from "../../shared/shell/toast";
import type { StatusLine } from "../job/statusline";
import type { Verdicts } from "../job/verdict";
import type { Connection } from "../live/connection";
import type { Events } from "../live/events";
import type { Position } from "../position/position";

/** The parts of the page that outlive an open pack. */
export interface PageParts {
  errorBar: ErrorBar;
  sheet: Sheet;
  toast: Toast;
  notices: Notices;
  events: Events;
  themePicker: ThemePicker;
  connection: Connection;
  verdicts: Verdicts;
}

export interface Session extends PageParts {
  about: About;
  base: BaseMap;
  mapView: MapView;
  records: RecordSet;
  status: StatusLine;
  goTo: GoTo;
  crosshair: Crosshair;
  here: Position;
  /** the extent of the job, in Web Mercator */
  job: Extent;
  /** all utilities of the color code; none where the laptop is of an earlier version */
  utilities: Utility[];
  /** what is added by what is loaded later: what a tap at a pixel finds besides records, and rows of the legend */
  added: { found(pixel: number[]): Found[]; legend(): LegendRow[] };
}
