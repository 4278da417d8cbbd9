// The text of the position beside the zoom buttons.
import type { Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import {
  ageOf, agoText, capitalize, clocksDisagree, doubts, errorText, fadeAfterMs, freshness, headText, type PositionState,
  whenText,
} from "./fix";
import { frameShort } from "./frame";
import type { Choice } from "./sheet";

/** The text, and for screen readers only what rarely changes; `state` selects its style. */
export function barText(choice: Choice, { fix, ...why }: PositionState, units: Units, now: number): { state: string; head: string; rest: string; aloud: string } {
  if (choice === "off") return { state: "off", head: say("position.here"), rest: "", aloud: "" };
  const trouble = why.short ?? why.trouble;
  if (fix === null) return { state: "none", head: say("position.none"), rest: trouble, aloud: say("position.none_aloud", { trouble }) };
  const state = freshness(fix, trouble, now);
  const kind = headText(fix);
  if (state === "old") {
    const why = trouble === "" ? say("position.nothing_newer") : trouble;
    const rest = say("position.old_rest", { trouble: why });
    return { state, head: say("position.old", { when: whenText(fix, now) }), rest, aloud: say("position.old_aloud", { rest }) };
  }
  const error = errorText(fix, units);
  const doubt = doubts(fix);
  const joined = (...parts: string[]) => [...doubt, ...parts, frameShort(fix)].filter((w) => w !== "").join(" · ");
  if (trouble !== "" || ageOf(fix, now) > fadeAfterMs) {
    // A recorded position has no age by this device's clock: what was recorded stays what it is.
    if (fix.recorded) return { state: "not-live", head: kind, rest: joined(error, trouble), aloud: say("position.aloud_not_live", { kind, error }) };
    const rest = trouble === "" ? joined(error) : [...doubt, trouble].join(" · ");
    return { state, head: say("position.fading", { when: capitalize(whenText(fix, now)), kind }), rest, aloud: say("position.fading_aloud", { trouble }) };
  }
  if (doubt.length > 0) {
    const why = [fix.grounds === "old-corrections" ? say("position.aloud_corrections") : "", clocksDisagree(fix) ? say("position.aloud_time") : ""];
    return { state: fix.live ? "doubt" : "not-live", head: kind, rest: joined(error), aloud: [say("position.aloud_not_live", { kind, error }), ...why].join(" ").trim() };
  }
  // A position that is not live has no "now".
  return fix.live ? { state, head: kind, rest: joined(error, agoText(ageOf(fix, now))), aloud: say("position.aloud", { kind, error }) }
    : { state: "not-live", head: kind, rest: joined(error), aloud: say("position.aloud_not_live", { kind, error }) };
}
