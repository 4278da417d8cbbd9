// The reference frame of a fix, and its shift from the map's.
import { foot, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { corrected, type Fix } from "./fix";

/** For the bar: "frame not stated", "in NAD83(2011)"; "" for a fix without corrections. */
export function frameShort(s: Fix): string {
  if (!corrected(s)) return "";
  return s.frame === null ? say("position.frame_short_unknown") : say("position.frame_short", { frame: s.frame });
}

/** All about the frame; "" for a fix that does not come from satellites. */
export function frameText(s: Fix, units: Units): string {
  if (s.kind === "autonomous") return say("position.frame_broadcast");
  if (!corrected(s)) return "";
  const said = [s.frame === null ? say("position.frame_unknown") : say("position.frame_stated", { frame: s.frame }), offText(s, units)];
  if (s.error > 0) said.push(say("position.frame_circle"));
  return said.join(" ");
}

function offText(s: Fix, units: Units): string {
  if (s.frame !== null && /^WGS ?84/i.test(s.frame)) return say("position.frame_same");
  if (s.nad83 !== null && (s.frame === null || /^NAD ?83/i.test(s.frame))) return say("position.frame_off", { off: roundText(s.nad83, units) });
  return say("position.frame_off_unknown");
}

// No finer: realizations of NAD83 differ by inches.
function roundText(metres: number, units: Units): string {
  return units === "us" ? `${Math.round(metres / foot)} ft` : `${metres.toFixed(1)} m`;
}
