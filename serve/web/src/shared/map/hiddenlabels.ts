// Tells when flags or crossings are hidden for lack of space: else a place would look as if it had none.
import { say } from "../lib/words";
import type { MarkPlaces } from "../records/markplaces";
import type { Notices } from "../shell/notice";
import type { MapView } from "./mapview";
import { hiddenNotice } from "./readout";

/** Shows a notice while marks are hidden; at the deepest zoom it suggests a tap. */
export function watchHiddenMarks(mapView: MapView, places: MarkPlaces, notices: Notices): void {
  mapView.map.on("rendercomplete", () => {
    const resolution = mapView.view.getResolution();
    if (resolution === undefined) return;
    const { flags, crossings } = places.hidden(mapView.view.calculateExtent(), resolution);
    const what = flags && crossings ? say("screen.flags_and_crossings") : flags ? say("screen.flags") : say("screen.crossings");
    const deepest = resolution <= mapView.view.getMinResolution() * 1.01;
    notices.set("marks", flags || crossings ? hiddenNotice(what, deepest, say("screen.lines"), () => mapView.zoomBy(1)) : null);
  });
}
