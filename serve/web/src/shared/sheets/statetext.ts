// The flow and the state of a line as text, only as recorded. The order of a line's positions
// is no direction of flow: it is how the line was drawn.
import { compassName } from "../coords/geodesic";
import { say } from "../lib/words";
import { boundedText, type Properties } from "../records/record";

/** The compass direction from one position to another, in plane coordinates; "" for equal ones. */
function compassToward(from: number[], to: number[]): string {
  const [dx, dy] = [(to[0] ?? 0) - (from[0] ?? 0), (to[1] ?? 0) - (from[1] ?? 0)];
  return Math.hypot(dx, dy) > 0 ? compassName((Math.atan2(dx, dy) * 180) / Math.PI) : "";
}

/** The direction of flow; "" where none is stated and none is expected. */
export function flowText(f: Properties, utility: string, line: number[][] | null): string {
  const stated = boundedText(f.get("flow"));
  if (stated === "") return utility === "sewer" && line !== null ? say("state.no_flow") : "";
  const along = /^(with|against)( the)?( line)?$/i.exec(stated);
  const [first, last] = [line?.[0], line?.[line.length - 1]];
  if (!along || !first || !last) return say("state.flow_in_words", { flow: stated });
  const end = along[1]?.toLowerCase() === "with" ? compassToward(first, last) : compassToward(last, first);
  return end === "" ? say("state.flow_in_words", { flow: stated }) : say("state.flow", { end });
}

/** The state of a feature as recorded, with its caution unless it is clearly "in service". */
export function stateText(f: Properties): string {
  const status = boundedText(f.get("status"));
  switch (boundedText(f.get("status_as_read"))) { // as the import understood the record
    case "in service": return say("state.recorded", { status });
    case "proposed": return status === "" ? say("state.proposed_by_color") : say("state.proposed", { status });
    case "not understood": return say("state.not_understood", { status });
    default: return status === "" ? "" : say("state.not_in_use", { status });
  }
}

/** The state of a feature for a list; "" for one that is in service, or states none. */
export function stateInLine(f: Properties): string {
  const [status, read] = [boundedText(f.get("status")), boundedText(f.get("status_as_read"))];
  if (read === "proposed") return say("legend.proposed");
  return status === "" || read === "in service" ? "" : say("state.in_line", { status });
}

/** The state of a derived line; "" for none. */
export function derivedStateText(value: unknown): string {
  const status = boundedText(value);
  switch (status) {
    case "": return "";
    case "proposed": return say("state.proposed", { status });
    case "abandoned": case "out of service": return say("state.not_in_use", { status });
    default: return say("state.as_live", { status });
  }
}
