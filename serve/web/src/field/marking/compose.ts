// The feature that the pad keeps: what is pressed, what an instrument said, what stays of a mark that is changed, and its place.
import { say } from "../../shared/lib/words";
import { type Draft, hasDepth, isDrawn, propertiesOf } from "./draft";
import type { MarkFeature, MarkProperties } from "./entry";
import type { Mark } from "./fold";
import type { Heard } from "./instrument";
import type { Place } from "./place";
import type { Points } from "./points";

/** What is changed of a mark: its depth as it was pressed before, and whether its place is chosen anew. */
export interface Editing {
  mark: Mark;
  typed: string;
  moved: boolean;
}

interface Facts {
  draft: Draft;
  typed: string;
  depth: { metres: number; typed: string } | null;
  heard: Heard | null;
  /** the run that it belongs to; "" for none */
  line: string;
  editing: Editing | null;
  points: Points;
  cross: Place;
  place(): Promise<Place | string>;
}

/** The feature to keep, and its place where that is chosen now; a sentence where something is missing. */
export async function composed(f: Facts): Promise<{ feature: MarkFeature; place: Place | null } | string> {
  const { draft, typed, depth, heard, editing } = f;
  if (draft.utility === "") return say("marking.utility_missing");
  if (typed !== "" && hasDepth(draft.kind) && depth === null) return say("marking.depth_strange", { typed });
  if (draft.kind === "unlocatable" && draft.reason.trim() === "") return say("marking.reason_missing");
  if (draft.kind === "surface feature" && draft.label.trim() === "") return say("marking.what_missing");
  const told = heard === null ? {} : { reference: heard.depth === null ? draft.reference : heard.reference, hertz: heard.hertz ?? draft.hertz, current: heard.current ?? draft.current };
  const properties = {
    ...propertiesOf({ ...draft, ...told }, depth, f.line), ...(heard === null ? {} : { instrument: { line: heard.line, received: heard.received } }),
    ...(editing === null ? {} : staying(editing, typed, draft)),
  };
  const feature = (geometry: MarkFeature["geometry"], position: MarkProperties["position"]): MarkFeature =>
    ({ type: "Feature", geometry, properties: { ...properties, ...(position ? { position } : {}) } });
  if (editing !== null && !editing.moved) return { feature: feature(editing.mark.feature.geometry, editing.mark.feature.properties.position), place: null };
  if (isDrawn(draft.kind)) {
    const shape = f.points.shape(draft.kind === "area");
    if (shape === null) return draft.kind === "area" ? say("marking.area_points") : say("marking.line_points");
    return { feature: feature(shape, f.cross.placing), place: null };
  }
  const place = await f.place();
  if (typeof place === "string") return say("marking.no_place", { why: place });
  return { feature: feature({ type: "Point", coordinates: place.at }, place.placing), place };
}

/** What stays of a mark that is changed: its run, what an instrument said, and its depth to the digit where nobody pressed another. */
function staying({ mark: { feature: { properties: was } }, typed: before }: Editing, typed: string, draft: Draft): Partial<MarkProperties> {
  const same = typed === before && was.depth_m != null && hasDepth(draft.kind);
  return {
    ...(was.line ? { line: was.line, line_ended: was.line_ended === true } : {}),
    ...(same ? { depth_m: was.depth_m, depth_as_typed: was.depth_as_typed ?? "" } : {}),
    ...(same && was.instrument ? { instrument: was.instrument } : {}),
  };
}
