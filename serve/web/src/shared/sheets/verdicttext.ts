// What is said of a verdict on a pack.
import type { Verdict } from "../lib/api";
import { say } from "../lib/words";

export const unchecked: Verdict = { state: "unchecked", faults: 0, first: [] };

/** The whole verdict in words. */
export function verdictText(v: Verdict): string {
  if (v.state === "fit") return say("verdict.fit");
  if (v.state !== "not fit") return say("verdict.unchecked");
  return v.first.length === 0 ? verdictShort(v) : say("verdict.not_fit", { n: v.faults, first: v.first[0] ?? "" });
}

/** The verdict beside a name; "" for fit, which is no praise. */
export function verdictShort(v: Verdict): string {
  if (v.state === "fit") return "";
  return v.state === "not fit" ? say("verdict.short", { n: v.faults }) : say("verdict.unchecked");
}
