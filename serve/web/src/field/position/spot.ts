// The position as one end of a tape.
import { timeOfDay } from "../../shared/lib/dates";
import type { Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import type { Spot } from "../../shared/measure/doubt";
import { ageOf, corrected, durationText, errorText, type Fix, freshness, headText, type PositionState } from "./fix";

/** The position as a spot, never more certain than it is; a sentence where there is none to take. */
export function positionSpot({ fix, trouble }: PositionState, units: Units, now: number): Spot | string {
  if (fix === null) return say("tie.no_position", { why: trouble });
  if (freshness(fix, trouble, now) === "old") {
    const span = ageOf(fix, now);
    const age = Number.isFinite(span) ? durationText(span / 1000) : "";
    const why = age === "" ? trouble : say("tie.position_old", { age });
    return say("tie.no_position", { why });
  }
  const error = errorText(fix, units);
  const shift = shiftOf(fix);
  return {
    at: [fix.lon, fix.lat], what: say("tie.position_at", { time: timeOfDay(new Date(fix.at)), kind: headText(fix) }), named: "",
    doubt: { metres: fix.error <= 0 || shift === null ? null : fix.error + shift, atLeast: false },
    grounds: shift === null ? say("tie.grounds_frame_unknown", { error }) : shift > 0 ? say("tie.grounds_frame", { error }) : say("tie.grounds_position", { error }),
  };
}

/** How far the frame of a corrected fix may be from this map, in meters; null for not known. */
function shiftOf(s: Fix): number | null {
  if (!corrected(s) || (s.frame !== null && /^WGS ?84/i.test(s.frame))) return 0;
  return s.frame === null || /^NAD ?83/i.test(s.frame) ? s.nad83 : null;
}
