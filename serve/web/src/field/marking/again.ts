// Against a mark kept twice by one press too many: a glove that presses twice, or a key that bounces.
import { inverse } from "../../shared/coords/geodesic";
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
  /** Forgets the last one, as when it was undone, or the question. */
  forget(): void;
}

export function makeAgain(): Again {
  let last: { what: string; place: Place } | null = null;
  let [rested, asked] = [-Infinity, false];
  return {
    open: (now) => now >= rested,
    kept(what, place, now) {
      last = place === null ? null : { what, place };
      [rested, asked] = [now + restMs, false];
    },
    asks(what, place, now) {
      if (asked || last === null || last.what !== what) return false;
      if (inverse(last.place.at, place.at).metres > Math.max(limits.duplicate, last.place.placing.error_m ?? 0)) return false;
      [rested, asked] = [now + restMs, true];
      return true;
    },
    forget() {
      [last, asked] = [null, false];
    },
  };
}
