// From the depth of a pipe's centre to that of its top: half of its size higher,
// where the size is known. Never a number where it is not.
import { depthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import { boundedText, hasSignalStrength, numberOf, type Properties } from "./record";

/** Whether a depth is to the centre of a line: so it says, or it is that of a signal and nothing else is said. */
function isToCenter(f: Properties): boolean {
  const to = boundedText(f.get("depth_of"));
  return to === "" ? hasSignalStrength(f) : /cent(er|re)/i.test(to);
}

/** What is known of the top of a pipe; "" where the depth is to something else, or there is none. */
export function topText(f: Properties, units: Units): string {
  const depth = numberOf(f, "depth_m");
  if (depth === null || !isToCenter(f)) return "";
  const words = boundedText(f.get("size"));
  const size = numberOf(f, "width_m"); // as the office read it from the same words
  if (words === "") return say("size.top_none");
  if (size === null) return say("size.top_unread", { size: words });
  const top = depth - size / 2;
  if (top <= 0) return say("size.top_above", { size: words });
  return say("size.top", { top: depthText(top, units), size: words });
}
