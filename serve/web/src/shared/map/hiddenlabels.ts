// Tells when flags or crossings are hidden for lack of space: else a place would look as if it had none.
import { byId, make, setText } from "../lib/dom";
import { say } from "../lib/words";
import type { MarkPlaces } from "../records/markplaces";
import type { MapView } from "./mapview";

/** Shows a notice while marks are hidden; at the deepest zoom it suggests a tap. */
export function watchHiddenMarks({ map, view }: MapView, places: MarkPlaces): void {
  const notice = make("strong", "");
  notice.id = "marks-hidden";
  notice.hidden = true;
  byId("notices").prepend(notice);
  map.on("rendercomplete", () => {
    const resolution = view.getResolution();
    if (resolution === undefined) return;
    const { flags, crossings } = places.hidden(view.calculateExtent(), resolution);
    const what = flags && crossings ? say("screen.flags_and_crossings") : flags ? say("screen.flags") : say("screen.crossings");
    const deepest = resolution <= view.getMinResolution() * 1.01;
    notice.hidden = !flags && !crossings;
    setText(notice, deepest ? say("screen.marks_tap", { what }) : say("screen.marks_zoom", { what }));
  });
}
