// The depth of a pipe's top from that of its center: half of its size less. Never a number where the size is not known.
import { depthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { boundedText, hasSignalStrength, numberOf, type Properties } from "../records/record";

/** Whether a depth is to the center of a line: as stated, or by default for a depth from a signal. */
function isToCenter(f: Properties): boolean {
  const to = boundedText(f.get("depth_of"));
  return to === "" ? hasSignalStrength(f) : /cent(er|re)/i.test(to);
}

/** The top of a pipe; "" where there is no depth, or one to something else. */
export function topText(f: Properties, units: Units): string {
  const depth = numberOf(f, "depth_m");
  if (depth === null || !isToCenter(f)) return "";
  const words = boundedText(f.get("size"));
  const size = numberOf(f, "width_m"); // as the import parsed it from the same text
  if (words === "") return say("size.top_none");
  if (size === null) return say("size.top_unread", { size: words });
  const top = depth - size / 2;
  if (top <= 0) return say("size.top_above", { size: words });
  return say("size.top", { top: depthText(top, units), size: words });
}
