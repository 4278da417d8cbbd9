// The symbols of records: color and casing, pattern, and a dash by quality level.
import type { LineSymbol, LineSymbols, Overlay } from "../lib/api";
import { say } from "../lib/words";

export const font = 'system-ui, -apple-system, "Segoe UI", Roboto, sans-serif';

/** The quality levels of ASCE 38 in words of our own, best first; "" for not stated. */
export const qualityLevels: { level: string; words: string }[] = [
  { level: "A", words: say("quality.a") },
  { level: "B", words: say("quality.b") },
  { level: "C", words: say("quality.c") },
  { level: "D", words: say("quality.d") },
  { level: "", words: say("quality.none") },
];

const dottedSymbol: LineSymbol = { dash: [0.1, 9], round: true, ticks: [], every: 0, hatch: { angle: 45, gap: 12, crossed: false } };

let served: LineSymbols = {};

/** Sets the symbols that the server sends with the list of records. */
export function setLineSymbols(styles: LineSymbols | undefined): void {
  served = styles ?? {};
}

/** The symbol of a utility at a quality level. Levels other than A to D count as not stated; an unknown utility is dotted. */
export function lineSymbol(utility: string, level: string): LineSymbol {
  const of = served[utility] ?? Object.values(served)[0];
  return of?.[/^[A-D]$/.test(level) ? level : ""] ?? dottedSymbol;
}

/** The dash of a quality level, in pixels: the less certain, the shorter the dashes. */
export const dashOf = (level: string): number[] => lineSymbol("", level).dash ?? [];

/** Dots are the round caps of dashes without length. */
export function lineCapOf(level: string): "butt" | "round" {
  return lineSymbol("", level).round ? "round" : "butt";
}

/** "level D", the level as recorded, or "level not stated". */
export function levelText(level: string): string {
  if (level === "") return say("quality.not_stated");
  return /^[A-D]$/.test(level) ? say("quality.level", { level }) : say("quality.own", { level });
}

/** The colors of a record; invalid ones become pink on black, the usual color of an unknown line. */
export function coloursOf(o: Overlay): { colour: string; casing: string } {
  const good = /^#[0-9a-f]{6}$/i;
  if (good.test(o.colour) && good.test(o.casing)) return { colour: o.colour, casing: o.casing };
  return { colour: "#ff1493", casing: "#000000" };
}
