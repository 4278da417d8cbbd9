// Which way a line flows and what state it is in, only as its record states
// them. The order of a line's positions is no direction: it is how it was drawn.
import { text, type Properties } from "./record";
import { say } from "./words";

const ends = ["east", "northeast", "north", "northwest", "west", "southwest", "south", "southeast"];

/** The end of the compass from one place to another, in plane coordinates; "" for the same place. */
function endToward(from: number[], to: number[]): string {
  const [dx, dy] = [(to[0] ?? 0) - (from[0] ?? 0), (to[1] ?? 0) - (from[1] ?? 0)];
  return Math.hypot(dx, dy) > 0 ? ends[(Math.round(Math.atan2(dy, dx) / (Math.PI / 4)) + 8) % 8] ?? "" : "";
}

/** Which way a line flows in words; "" where nothing is stated and none is asked for. */
export function flowText(f: Properties, utility: string, line: number[][] | null): string {
  const stated = text(f.get("flow"));
  if (stated === "") return utility === "sewer" && line !== null ? say("state.no_flow") : "";
  const along = /^(with|against)( the)?( line)?$/i.exec(stated);
  const [first, last] = [line?.[0], line?.[line.length - 1]];
  if (!along || !first || !last) return say("state.flow_in_words", { flow: stated });
  const end = along[1]?.toLowerCase() === "with" ? endToward(first, last) : endToward(last, first);
  return end === "" ? say("state.flow_in_words", { flow: stated }) : say("state.flow", { end });
}

const notInUse = /abandon|out[ -]of[ -](service|use)|\b(retired|disused|inactive|dead|removed)\b/i;

/** The state of a line as recorded; one that is said not to be in use is still told with its caution. */
export function stateText(f: Properties): string {
  const stated = text(f.get("status"));
  if (stated === "") return "";
  return notInUse.test(stated) ? say("state.not_in_use", { status: stated }) : say("state.recorded", { status: stated });
}
