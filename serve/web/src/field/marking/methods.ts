// How something was found, and the best quality level that it can give: recording never raises one.
import { say } from "../../shared/lib/words";
import type { Kind } from "./entry";

interface Method {
  /** as it is kept in the mark */
  code: string;
  /** on a small button, and in a list */
  short: string;
  title: string;
  /** the best quality level it gives */
  best: "B" | "C" | "D";
  /** whether it has a signal with a frequency and a current */
  signal: boolean;
}

const method = (code: string, short: string, title: string, best: Method["best"], signal = false): Method => ({ code, short, title, best, signal });

/** The methods; the code of paint begins with that word, by which the laptop knows it. */
export const methods = (): Method[] => [
  method("electromagnetic, connected", say("marking.em_connected_short"), say("marking.em_connected"), "B", true),
  method("electromagnetic, clamp", say("marking.em_clamp_short"), say("marking.em_clamp"), "B", true),
  method("electromagnetic, induced", say("marking.em_induced_short"), say("marking.em_induced"), "B", true),
  method("electromagnetic, passive", say("marking.em_passive_short"), say("marking.em_passive"), "B", true),
  method("sonde", say("marking.sonde_short"), say("marking.sonde"), "B", true),
  method("ground radar", say("marking.radar_short"), say("marking.radar"), "B"),
  method("acoustic", say("marking.acoustic_short"), say("marking.acoustic"), "B"),
  method("surface features", say("marking.surface_short"), say("marking.surface"), "C"),
  method("paint or flags", say("marking.paint_short"), say("marking.paint"), "D"),
  method("told by somebody", say("marking.told_short"), say("marking.told"), "D"),
];

export const methodOf = (code: string): Method | undefined => methods().find((m) => m.code === code);

const levels = ["A", "B", "C", "D"];

/** The quality levels that a mark may state, best first; none for what was not found. */
export function levelsFor(kind: Kind, code: string): string[] {
  if (kind === "nothing found" || kind === "unlocatable") return [];
  if (kind === "test hole") return levels;
  const best = kind === "surface feature" ? "C" : methodOf(code)?.best ?? "D";
  const found = methodOf(code)?.best === "D" ? "D" : best;
  return levels.slice(levels.indexOf(found));
}

/** The level that a mark states: the chosen one, and never one that is too good. */
export function levelOf(kind: Kind, code: string, chosen: string): string {
  const allowed = levelsFor(kind, code);
  return allowed.includes(chosen) ? chosen : allowed[0] ?? "";
}
