// Notified utilities without records here.
import type { About } from "../lib/api";
import { say } from "../lib/words";

/** Utilities without a record in the pack, and those whose record shows nothing on or near the dig area. */
export function coverageGaps(about: Pick<About, "expected_missing" | "expected_nothing_here">): { unrecorded: string[]; empty: string[] } {
  const nothing = about.expected_nothing_here ?? [];
  return {
    unrecorded: about.expected_missing.filter((u) => !nothing.includes(u)),
    empty: about.expected_missing.filter((u) => nothing.includes(u)),
  };
}

/** What is not recorded, a sentence for each notified utility, or the same in one line of a phone. */
export function notRecorded(about: Pick<About, "expected_missing" | "expected_nothing_here" | "expected_only_near">, short = false): string[] {
  const { unrecorded, empty } = coverageGaps(about);
  return [
    ...unrecorded.map((utility) => short ? say("notknown.no_record_short", { utility }) : say("notknown.no_record", { utility })),
    ...empty.map((utility) => short ? say("notknown.nothing_here_short", { utility }) : say("notknown.nothing_here", { utility })),
    ...(about.expected_only_near ?? []).map((utility) => say("notknown.only_near", { utility })),
  ];
}
