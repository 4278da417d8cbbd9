// The words of the bar over the map: what is known of a position, in one glance.
import { frameShort } from "./positionframe";
import type { Choice } from "./positionsheet";
import { ageOf, agoText, doubts, errorText, fadesMs, freshness, headText, late, upper, whenText, type Whereabouts } from "./positionsight";
import type { Units } from "./units";
import { say } from "./words";

/** What the bar says, and aloud only what changes seldom; `state` is how it looks. */
export function barText(choice: Choice, { sight, ...why }: Whereabouts, units: Units, now: number): { state: string; head: string; rest: string; aloud: string } {
  if (choice === "off") return { state: "off", head: say("position.where"), rest: "", aloud: "" };
  const trouble = why.short ?? why.trouble;
  if (sight === null) return { state: "none", head: say("position.none"), rest: trouble, aloud: say("position.none_aloud", { trouble }) };
  const state = freshness(sight, trouble, now);
  const kind = headText(sight);
  if (state === "old") {
    const why = trouble === "" ? say("position.nothing_newer") : trouble;
    const rest = say("position.old_rest", { trouble: why });
    return { state, head: say("position.old", { when: whenText(sight, now) }), rest, aloud: say("position.old_aloud", { rest }) };
  }
  const error = errorText(sight, units);
  const doubt = doubts(sight);
  const told = (...parts: string[]) => [...doubt, ...parts, frameShort(sight)].filter((w) => w !== "").join(" · ");
  if (trouble !== "" || ageOf(sight, now) > fadesMs) {
    const rest = trouble === "" ? told(error) : [...doubt, trouble].join(" · ");
    return { state, head: say("position.fading", { when: upper(whenText(sight, now)), kind }), rest, aloud: say("position.fading_aloud", { trouble }) };
  }
  if (doubt.length > 0) {
    const why = [sight.grounds === "old-corrections" ? say("position.aloud_corrections") : "", late(sight) ? say("position.aloud_time") : ""];
    return { state: sight.live ? "doubt" : "not-live", head: kind, rest: told(error), aloud: [say("position.aloud_not_live", { kind, error }), ...why].join(" ").trim() };
  }
  // What is not live has no "now".
  return sight.live ? { state, head: kind, rest: told(error, agoText(ageOf(sight, now))), aloud: say("position.aloud", { kind, error }) }
    : { state: "not-live", head: kind, rest: told(error), aloud: say("position.aloud_not_live", { kind, error }) };
}
