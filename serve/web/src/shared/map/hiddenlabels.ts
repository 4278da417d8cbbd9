// Flags and crossings that found no room in the view: that some are left out is
// told, as with depths, or an empty spot would look like one without any.
import type Feature from "ol/Feature";
import { containsCoordinate } from "ol/extent";
import { type Geometry, Point } from "ol/geom";
import { type Derived, recordIdsOf } from "../derived/layers";
import { flagPoint } from "../derived/styles";
import { byId, make } from "../lib/dom";
import { say } from "../lib/words";
import { isOn, type RecordLayer } from "../records/layer";
import { mergedWith } from "../records/record";
import type { MapView } from "./mapview";

/** Watches the map and tells; at the deepest zoom only a tap is left. */
export function watchHiddenMarks(mapView: MapView, known: Derived, layers: RecordLayer[]): void {
  const told = make("strong", "");
  told.id = "marks-hidden";
  told.hidden = true;
  byId("notices").prepend(told);
  const on = (f: Feature) => recordIdsOf(f).every((id) => layers.some((l) => l.overlay.id === id && isOn(l)));
  mapView.map.on("rendercomplete", ({ frameState }) => {
    if (!frameState) return;
    const { extent } = frameState;
    if (!extent) return;
    // The renderer's own list of what found room; the group is that of overlays.ts and known.ts.
    const shown = new Set<unknown>(frameState.declutter?.records?.all().map((item) => item.value));
    const missing = (id: string) => known.layers.some((l) => l.id === id && l.layer.getVisible() &&
      (l.layer.getSource()?.getFeatures() ?? []).some((f) => {
        const at = markPoint(f.getGeometry());
        return at !== undefined && containsCoordinate(extent, at) && (!shown.has(f) || mergedWith(f) > 0) && on(f);
      }));
    const [flags, crossings] = [missing("entries"), missing("crossings")];
    const what = flags && crossings ? say("screen.flags_and_crossings") : flags ? say("screen.flags") : say("screen.crossings");
    const deepest = (mapView.view.getResolution() ?? 0) <= mapView.view.getMinResolution() * 1.01;
    told.hidden = !flags && !crossings;
    told.textContent = deepest ? say("screen.marks_tap", { what }) : say("screen.marks_zoom", { what });
  });
}

function markPoint(g: Geometry | undefined): number[] | undefined {
  return (g instanceof Point ? g : flagPoint(g))?.getCoordinates();
}
