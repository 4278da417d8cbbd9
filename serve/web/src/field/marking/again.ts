// Against a mark kept twice by one press too many: a glove that presses twice, or a key that bounces.
import { inverse, type LonLat } from "../../shared/coords/geodesic";
import type { Place } from "./place";
import { limits } from "./run";

/** How long nothing is kept after a mark was, in milliseconds: longer than between the two presses of a double one. */
const restMs = 800;

interface Again {
  /** Whether a press counts: not right after a mark was kept or a question was asked. */
  open(now: number): boolean;
  /** Hears what was kept, and where; null for a mark without a place of its own. */
  kept(what: string, place: Place | null, now: number): void;
  /** Whether to ask before the same is kept without a depth where the last one lies; once. */
  asks(what: string, place: Place, now: number): boolean;
  /** Whether to ask before nothing is said to be where readings lie; once. */
  beside(what: string, place: Place, readings: LonLat[], now: number): boolean;
  /** Forgets the last one, as when it was undone, or the question. */
  forget(): void;
}

export function makeAgain(): Again {
  let last: { what: string; place: Place } | null = null;
  let [rested, asked] = [-Infinity, ""];
  const once = (question: string, now: number): boolean => {
    if (asked === question) return false;
    [rested, asked] = [now + restMs, question];
    return true;
  };
  return {
    open: (now) => now >= rested,
    kept(what, place, now) {
      last = place === null ? null : { what, place };
      [rested, asked] = [now + restMs, ""];
    },
    asks(what, place, now) {
      if (last === null || last.what !== what) return false;
      if (inverse(last.place.at, place.at).metres > Math.max(limits.duplicate, last.place.placing.error_m ?? 0)) return false;
      return once(what, now);
    },
    beside(what, place, readings, now) {
      const near = readings.find((at) => inverse(at, place.at).metres <= limits.beside);
      return near !== undefined && once([what, ...near].join(), now);
    },
    forget() {
      [last, asked] = [null, ""];
    },
  };
}
