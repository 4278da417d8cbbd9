// A locator that speaks to the laptop: what it said last fills the pad, until it is kept or something else is pressed.
import type { Events } from "../live/events";

/** The event "instrument", as far as it is used here. */
interface InstrumentEvent {
  reading: {
    line: string; depth_m: number | null; depth_as_told: string; depth_of: string; current_ma: number | null; frequency_hz: number | null; at: string; age_ms: number;
  } | null;
}

/** What it said. */
export interface Heard {
  depth: { metres: number; typed: string } | null;
  /** what its depth is measured to, as the job states it: "center", "top", "bottom", or "" */
  reference: string;
  hertz: number | null;
  current: number | null;
  /** its line to the letter, and when the laptop got it */
  line: string;
  received: string;
}

/** How long what it said may wait to be kept, in milliseconds: people walk on. */
const freshMs = 30_000;

const parts: [RegExp, string][] = [[/^(top|crown|cover|obvert|soffit)/i, "top"], [/^(cent(er|re)|axis|middle)/i, "center"], [/^(bottom|invert|base|flowline)/i, "bottom"]];

/** What a depth is measured to, from words such as "center of signal". */
const referenceOf = (words: string): string => parts.find(([form]) => form.test(words.trim()))?.[1] ?? "";

interface InstrumentSource {
  /** What it said last, while that is fresh and not used; null for nothing. */
  now(): Heard | null;
  /** What it said is kept, or not wanted: the next counts. */
  used(): void;
}

export function followInstrument(events: Events, changed: () => void): InstrumentSource {
  let last: (Heard & { until: number }) | null = null;
  let done = "";
  events.on("instrument", (data, at) => {
    const r = (data as InstrumentEvent | null)?.reading ?? null;
    if (r === null || r.at === done) return;
    const depth = typeof r.depth_m === "number" && r.depth_m >= 0 ? { metres: r.depth_m, typed: r.depth_as_told } : null;
    last = { depth, reference: referenceOf(r.depth_of), hertz: r.frequency_hz, current: r.current_ma, line: r.line, received: r.at, until: at - r.age_ms + freshMs };
    changed();
  });
  return {
    now: () => (last !== null && Date.now() < last.until ? last : null),
    used() {
      done = last?.received ?? done;
      last = null;
    },
  };
}
