// Values that parts of the desk share: one part sets them, the others hear of it.
import type { Drafted } from "./drafted";

interface Cell<T> {
  readonly value: T;
  set(value: T): void;
  /** Runs at once, and whenever the value is set. */
  on(f: (value: T) => void): void;
}

function makeCell<T>(value: T): Cell<T> {
  const hears: ((value: T) => void)[] = [];
  return {
    get value() {
      return value;
    },
    set(now) {
      value = now;
      for (const f of hears) f(now);
    },
    on(f) {
      hears.push(f);
      f(value);
    },
  };
}

/** What is being drawn and is not in the job's files yet. */
interface Drawing {
  /** as POST /api/jobs/ID/area takes them */
  shapes: object[];
  /** as typed, such as "50ft"; null = the job's */
  margin: string | null;
  /** nothing is held or dragged right now */
  resting: boolean;
}

/** null = the job's own area, as its files have it. Who draws sets it. */
export const drawing = makeCell<Drawing | null>(null);

/** What was opened last over the map, a tool or a dialog: nothing is pointed at any more. */
export const opened = makeCell("");

/** The source whose picture lies under the drawing; "" = none. A new job gets it. */
export const chosenSource = makeCell("");

/** Values chosen for a job that is not made yet, by their paths in job.toml. */
export const choices = makeCell<{ key: string; value: unknown }[]>([]);

/** The plan as it is now; null while there is none. */
export const planned = makeCell<Drafted | null>(null);

/** When the newest tile that is shown was fetched: what is to be fetched has changed. */
export const arrived = makeCell("");
