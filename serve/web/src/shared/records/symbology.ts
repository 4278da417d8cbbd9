// The symbols of records: color and casing, pattern, and a dash by quality level.
import type { LineSymbol, LineSymbols, Overlay } from "../lib/api";
import { svg } from "../lib/dom";
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

/** A sample of a record's line with its letter, for lists. */
export function lineSwatch(o: Overlay, level: string): SVGElement {
  const { colour, casing } = coloursOf(o);
  const line = { x1: 2, y1: 31, x2: 54, y2: 31 };
  const dash = { "stroke-dasharray": dashOf(level).join(" "), "stroke-linecap": lineCapOf(level) };
  return lettered(o,
    svg("line", { ...line, stroke: casing, "stroke-width": 9 }),
    svg("line", { ...line, stroke: colour, "stroke-width": 5, ...dash }));
}

/** A sample of a record's points. */
export function pointSwatch(o: Overlay): SVGElement {
  const { colour, casing } = coloursOf(o);
  return lettered(o, svg("circle", { cx: 28, cy: 30, r: 7, fill: colour, stroke: casing, "stroke-width": 3 }));
}

/** A frame for a sample, on the gray of a picture. */
export function swatchFrame(height: number, ...drawn: SVGElement[]): SVGElement {
  return svg("svg", { viewBox: `0 0 56 ${height}`, width: 56, height, class: "swatch", "aria-hidden": "true" },
    svg("rect", { x: 0, y: 0, width: 56, height, fill: "#6b7068" }), ...drawn);
}

function lettered(o: Overlay, ...drawn: SVGElement[]): SVGElement {
  const { colour, casing } = coloursOf(o);
  const box = swatchFrame(40, ...drawn);
  const letter = svg("text", {
    x: 28, y: 19, "text-anchor": "middle", "font-size": 19, "font-weight": 800, fill: colour,
    stroke: casing, "stroke-width": 4, "paint-order": "stroke", "stroke-linejoin": "round",
  });
  letter.textContent = o.letter;
  box.append(letter);
  return box;
}

/** A sample of the dash of a level, in ink. */
export function levelSwatch(level: string): SVGElement {
  const dash = { "stroke-dasharray": dashOf(level).join(" "), "stroke-linecap": lineCapOf(level) };
  return svg("svg", { viewBox: "0 0 84 14", width: 84, height: 14, class: "level", "aria-hidden": "true" },
    svg("line", { x1: 3, y1: 7, x2: 81, y2: 7, stroke: "currentColor", "stroke-width": 5, ...dash }));
}

/** A sample of the edge of dig area or margin. */
export function edgeSwatch(part: "area" | "margin"): SVGElement {
  const line = { x1: 3, y1: 9, x2: 53, y2: 9 };
  const [casing, width, dash] = part === "area" ? [9, 5, ""] : [5, 2, "8 6"];
  return swatchFrame(18,
    svg("line", { ...line, stroke: "#000", "stroke-width": casing }),
    svg("line", { ...line, stroke: "#fff", "stroke-width": width, "stroke-dasharray": dash }));
}
