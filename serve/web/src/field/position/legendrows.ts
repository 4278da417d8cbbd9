// What the position mark means, for the legend.
import { say } from "../../shared/lib/words";
import type { LegendRow } from "../../shared/sheets/legend";
import { markSample } from "./marker";

/** A row for each look of the mark. */
export const positionRows = (): LegendRow[] => [
  { sample: markSample("live", "fresh", true), words: say("legend.position_settled") },
  { sample: markSample("live", "fresh", false), words: say("legend.position") },
  { sample: markSample("live", "fading", false), words: say("legend.position_fading") },
  { sample: markSample("live", "old", false), words: say("legend.position_old") },
  { sample: markSample("not-live", "fresh", false), words: say("legend.position_not_live") },
];
