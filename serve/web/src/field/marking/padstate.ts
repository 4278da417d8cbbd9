// What the pad shows, from what the next mark says so far.
import type { Utility } from "../../shared/lib/api";
import type { LonLat } from "../../shared/coords/geodesic";
import { depthText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { kindTitle, referenceShort } from "./choices";
import { metresOf, stepped, typedText } from "./depth";
import { capitalize } from "../position/fix";
import type { Heard } from "./instrument";
import { type Draft, hasDepth, hasMethod, isDrawn } from "./draft";
import { levelOf, methodOf } from "./methods";
import { nearCount, type PadState } from "./pad";
import type { Place } from "./place";
import { doubtsAfter, type Run, type RunReading } from "./run";

/** What was told last, of which mark; alarm for what the crew must know before it walks on. */
export interface Told {
  text: string;
  alarm: boolean;
  /** the mark that can be undone; "" for none */
  mark: string;
  /** the mark that was kept, told of before the text; "" for none */
  kept: string;
}

interface Facts {
  units: Units;
  draft: Draft;
  utility: Utility;
  /** the depth as pressed, and what an instrument said in its place; null for nothing */
  typed: string;
  heard: Heard | null;
  told: Told;
  /** what goes on; "" for nothing */
  busy: string;
  /** whether the person wants the keys */
  keys: boolean;
  /** the run that the next reading belongs to; null for none */
  run: Run | null;
  /** whether a mark is changed, and whether that stays where it is */
  editing: boolean;
  unmoved: boolean;
  place: Place | string;
  points: number;
}

/** The depth of a draft: what is pressed, else what an instrument said; null for none, or where what is pressed is no length. */
export function depthOf(draft: Draft, typed: string, heard: Heard | null, units: Units): { metres: number; typed: string } | null {
  if (typed === "" && draft.kind === "reading") return heard?.depth ?? null;
  const metres = hasDepth(draft.kind) ? metresOf(typed, units) : null;
  return metres === null ? null : { metres, typed: typedText(typed, units) };
}

/** A draft as a reading of a run. */
export const readingOf = (draft: Draft, depth: { metres: number } | null, at: LonLat): RunReading => ({
  at, depth: depth?.metres ?? null, reference: draft.reference, hertz: draft.hertz, current: draft.current,
});

/** Depths near the last one of a run, as they would be pressed. */
export const nearDepths = (run: Run | null, units: Units): string[] => {
  const last = run?.reading.depth ?? null;
  return last === null ? [] : Array.from({ length: nearCount }, (_, i) => stepped(last, i - Math.floor(nearCount / 2), units));
};

/** With the quality level that the mark will state, if any. */
function withLevel(what: string, { kind, method, level }: Draft): string {
  const stated = levelOf(kind, hasMethod(kind) ? method : "", level);
  return stated === "" ? what : say("marking.with_level", { what, level: stated });
}

/** What is kept, in a few letters: of a surface feature what it is. */
const whatOf = ({ kind, label }: Draft): string => (kind === "surface feature" && label.trim() !== "" && label.length <= 20 ? capitalize(label.trim()) : kindTitle(kind));

export function padState(f: Facts): PadState {
  const { draft, units, place, run, utility, typed, busy, told } = f;
  const deep = hasDepth(draft.kind);
  const depth = depthOf(draft, typed, f.heard, units);
  // What would not fit is told while the depth is pressed: it can be read again on the spot.
  const failed = told.alarm && told.kept === ""; // why nothing was kept comes before what would not fit
  const preview = !failed && run !== null && depth !== null && typeof place !== "string" ? doubtsAfter(run, readingOf(draft, depth, place.at), units).join(" ") : "";
  const inUnits = (text: string) => depthText(metresOf(text, units) ?? 0, units);
  return {
    chips: {
      kind: hasMethod(draft.kind) ? kindTitle(draft.kind) : withLevel(whatOf(draft), draft), utility: utility.utility || say("marking.no_utility"),
      method: hasMethod(draft.kind) ? withLevel(methodOf(draft.method)?.short ?? say("marking.no_method"), draft) : "", reference: deep ? referenceShort(draft.reference) : "",
      more: draft.photos.length > 0 ? say("marking.more_photos", { n: draft.photos.length }) : say("marking.more"),
    },
    tag: utility,
    place: f.unmoved ? say("marking.place_stays") : isDrawn(draft.kind) ? say("marking.points", { n: f.points }) : typeof place === "string" ? place : place.said,
    doubts: f.unmoved || typeof place === "string" ? [] : place.doubts,
    told: busy !== "" ? busy : preview !== "" ? preview : told.text, alarm: busy === "" && (preview !== "" || told.alarm),
    canUndo: told.mark !== "" && preview === "" && busy === "",
    run: run === null ? "" : say("marking.end_run", { n: run.count }),
    hasDepth: deep, near: nearDepths(run, units).map(inUnits), keys: f.keys || nearDepths(run, units).length === 0, hasPoints: isDrawn(draft.kind), take: say("marking.add_point"),
    depth: !deep || (typed === "" && depth === null) ? "" : depth === null ? typed : depthText(depth.metres, units),
    keep: f.editing ? say("marking.keep_change") : depth !== null && typed === "" ? say("marking.keep_heard") : deep && typed === "" ? say("marking.keep_no_depth") : say("marking.keep"), busy: busy !== "",
  };
}
