// How far off a spot may be, and how doubts add up. No sum is smaller than its parts.
import { inch, roundedUpText, type Units } from "../lib/units";
import { say } from "../lib/words";

export interface Doubt {
  /** in meters; null for not stated */
  metres: number | null;
  /** whether that is the least it may be, such as a pixel of a picture that may lie off as a whole */
  atLeast: boolean;
}

/** A spot somewhere on the ground, and what is known of it. */
export interface Spot {
  at: [lon: number, lat: number];
  /** what it is, such as "Gas mains: reading 3′ 5″" */
  what: string;
  doubt: Doubt;
  /** where the doubt comes from, as a sentence */
  grounds: string;
  /** the name that the person gave it, or "" */
  named: string;
}

/** Half of what a tape is read to: an inch or a centimeter, in meters. */
const halfRead = (units: Units): number => (units === "us" ? inch : 0.01) / 2;

/** The doubt of a length between ends with these doubts, read to the inch or the centimeter: all of them at once. */
export function lengthDoubt(ends: Doubt[], units: Units): Doubt {
  return ends.reduce((sum: Doubt, d) => ({
    metres: sum.metres === null || d.metres === null ? null : sum.metres + d.metres,
    atLeast: sum.atLeast || d.atLeast,
  }), { metres: halfRead(units), atLeast: false });
}

/** "± 2.3 in", "± 2.3 in at best", or "± not stated". */
export function doubtText({ metres, atLeast }: Doubt, units: Units): string {
  if (metres === null) return say("tie.doubt_unknown");
  const length = roundedUpText(metres, units);
  return atLeast ? say("tie.doubt_least", { length }) : say("tie.doubt", { length });
}
