// What the parts of an open pack share.
import type { About } from "../../shared/lib/api";
import type { BaseMap } from "../../shared/map/basemap";
import type { MapView } from "../../shared/map/mapview";
import type { RecordSet } from "../../shared/map/recordset";
import type { GoTo } from "../../shared/measure/goto";
import type { ErrorBar } from "../../shared/shell/errorbar";
import type { Notices } from "../../shared/shell/notice";
import type { Sheet } from "../../shared/shell/sheet";
import type { ThemePicker } from "../../shared/shell/themepicker";
import type { Toast } from "../../shared/shell/toast";
import type { StatusLine } from "../job/statusline";
import type { Verdicts } from "../job/verdict";
import type { Connection } from "../live/connection";
import type { Events } from "../live/events";

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
}
