// A run of readings along one line, and what does not fit between two of them: told at once, before the crew walks on.
import { inverse, type LonLat } from "../../shared/coords/geodesic";
import { inch, lengthText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";

/** The limits by which the laptop judges too (pack/record/derive, pack/collect); a test compares them. In meters, but for the last two. */
export const limits = { gap: 15, jump: 6 * inch, duplicate: 0.05, beside: 1, slope: 0.2, drop: 0.3 };

/** A reading of a run. */
export interface RunReading {
  at: LonLat;
  depth: number | null;
  /** what the depth is measured to: depths of unlike parts are not compared */
  reference: string;
  hertz: number | null;
  current: number | null;
}

/** The run that readings belong to until it is ended. */
export interface Run {
  line: string;
  utility: string;
  /** the mark of its latest reading, and how many it has */
  last: string;
  count: number;
  reading: RunReading;
  /** as it was before that reading, for undoing it */
  before?: Run | null;
}

/** What does not fit between a reading and the next one, as sentences; none where nothing is amiss. */
function doubtsBetween(a: RunReading, b: RunReading, units: Units): string[] {
  const run = inverse(a.at, b.at).metres;
  const in_ = (metres: number) => lengthText(metres, units);
  const all: string[] = [];
  if (run > limits.gap) all.push(say("marking.gap", { far: in_(run), most: in_(limits.gap) }));
  if (run <= limits.duplicate) all.push(say("marking.same_place", { within: in_(limits.duplicate) }));
  const rise = a.depth === null || b.depth === null || a.reference !== b.reference ? 0 : Math.abs(b.depth - a.depth);
  if (rise >= limits.jump - 1e-9 && rise > limits.slope * run) all.push(say("marking.jump", { rise: in_(rise), run: in_(run) }));
  const signal = a.hertz === b.hertz && a.current !== null && b.current !== null;
  if (signal && (b.current ?? 0) < (a.current ?? 0) * (1 - limits.drop)) {
    all.push(say("marking.drop", { from: (a.current ?? 0).toFixed(1), to: (b.current ?? 0).toFixed(1) }));
  }
  return all;
}

/** What does not fit when a run goes on with a reading: with the one before, and of that one with both its neighbors. */
export function doubtsAfter(run: Run, next: RunReading, units: Units): string[] {
  const all = doubtsBetween(run.reading, next, units);
  const first = run.before?.reading;
  if (first !== undefined && isSpike(first, run.reading, next)) all.push(say("marking.spike", { within: lengthText(inverse(first.at, next.at).metres, units) }));
  return all;
}

/** Whether the middle one of three depths stands out to one side, by twice a jump and half of the slope: no line goes down and up again so soon. */
function isSpike(a: RunReading, b: RunReading, c: RunReading): boolean {
  if (a.depth === null || b.depth === null || c.depth === null || a.reference !== b.reference || b.reference !== c.reference) return false;
  const [before, after] = [b.depth - a.depth, b.depth - c.depth];
  const stands = (rise: number, run: number) => Math.abs(rise) >= 2 * limits.jump && Math.abs(rise) > (limits.slope / 2) * run;
  return before * after > 0 && stands(before, inverse(a.at, b.at).metres) && stands(after, inverse(b.at, c.at).metres);
}
