// Notified utilities without records here.
import type { About } from "../lib/api";

/** Utilities without a record in the pack, and those whose record shows nothing on or near the dig area. */
export function coverageGaps(about: Pick<About, "expected_missing" | "expected_nothing_here">): { unrecorded: string[]; empty: string[] } {
  const nothing = about.expected_nothing_here ?? [];
  return {
    unrecorded: about.expected_missing.filter((u) => !nothing.includes(u)),
    empty: about.expected_missing.filter((u) => nothing.includes(u)),
  };
}
