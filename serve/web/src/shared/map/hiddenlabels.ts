// Tells when flags or crossings are hidden for lack of space: else a place would look as if it had none.
import { containsCoordinate } from "ol/extent";
import { type Geometry, Point } from "ol/geom";
import type { Derived } from "../derived/layers";
import { flagPoint } from "../derived/styles";
import { say } from "../lib/words";
import { mergedWith } from "../records/record";
import type { Notices } from "../shell/notice";
import type { MapView } from "./mapview";
import { hiddenNotice } from "./readout";

/** Shows a notice while marks are hidden; at the deepest zoom it suggests a tap. */
export function watchHiddenMarks(mapView: MapView, derived: Derived, notices: Notices): void {
  mapView.map.on("rendercomplete", ({ frameState }) => {
    const extent = frameState?.extent;
    if (!extent) return;
    // The renderer's list of what it drew, by the declutter group of records and derived layers.
    const shown = new Set<unknown>(frameState.declutter?.records?.all().map((item) => item.value));
    const hiddenIn = (id: string) => derived.layers.some((l) => l.id === id && l.layer.getVisible() &&
      (l.layer.getSource()?.getFeatures() ?? []).some((f) => {
        const at = markPoint(f.getGeometry());
        return at !== undefined && containsCoordinate(extent, at) && (!shown.has(f) || mergedWith(f) > 0) && derived.isShown(f);
      }));
    const [flags, crossings] = [hiddenIn("entries"), hiddenIn("crossings")];
    const what = flags && crossings ? say("screen.flags_and_crossings") : flags ? say("screen.flags") : say("screen.crossings");
    const deepest = (mapView.view.getResolution() ?? 0) <= mapView.view.getMinResolution() * 1.01;
    notices.set("marks", flags || crossings ? hiddenNotice(what, deepest, say("screen.lines"), () => mapView.zoomBy(1)) : null);
  });
}

function markPoint(g: Geometry | undefined): number[] | undefined {
  return (g instanceof Point ? g : flagPoint(g))?.getCoordinates();
}
