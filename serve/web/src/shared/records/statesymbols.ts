// The symbols of a line's state: strokes in ink across it, or a hollow middle. The dash shows
// the quality level, ticks and color the utility. The server sends these symbols.
import { Stroke, Style } from "ol/style";
import type { Overlay, StateSymbol } from "../lib/api";
import { svg } from "../lib/dom";
import { theme } from "../lib/theme";
import { tickStyle } from "./linepattern";
import { boundedText, type Properties } from "./record";
import { coloursOf, dashOf, lineCapOf, lineSymbol } from "./symbology";

let served: StateSymbol[] = [];

/** Sets the symbols that the server sends with the list of records. */
export function setStateSymbols(looks: StateSymbol[] | undefined): void {
  served = looks ?? [];
}

/** All symbols of states, in the order of the legend. */
export const stateSymbols = (): StateSymbol[] => served;

/** The state by which a feature is drawn; "" for one that is drawn as in service. */
export function drawnState(f: Properties): string {
  const state = boundedText(f.get("status_as_read"));
  return served.some((l) => l.state === state) ? state : "";
}

const stateSymbol = (state: string): StateSymbol | undefined => served.find((l) => l.state === state);

/** The letters along a line: that of its utility, and its state where that has a symbol. */
export function lineLetters(o: Overlay, state: string): string {
  const word = stateSymbol(state)?.word ?? "";
  return word === "" ? o.letter : `${o.letter} ${word}`;
}

/** The styles that a state adds above a line. */
export function stateStyles(o: Overlay, level: string, state: string): Style[] {
  const look = stateSymbol(state);
  if (look === undefined) return [];
  const all: Style[] = [];
  if (look.hollow) {
    all.push(new Style({
      stroke: new Stroke({ color: coloursOf(o).casing, width: 1.8 * theme().weight, lineDash: dashOf(level), lineCap: lineCapOf(level), lineJoin: "round" }),
    }));
  }
  const strokes = tickStyle({ ...lineSymbol(o.utility, level), ticks: look.strokes, every: look.every }, theme().ink, theme().paper);
  return strokes ? [...all, strokes] : all;
}

/** A sample of a state for the legend, in ink. */
export function stateSwatch(look: StateSymbol): SVGElement {
  const line = (width: number, stroke: string) => svg("line", { x1: 3, y1: 12, x2: 81, y2: 12, stroke, "stroke-width": width });
  const strokes = [22, 62].flatMap((x) => look.strokes.map((t) => {
    const angle = ((90 + t.lean) * Math.PI) / 180;
    const [dx, dy] = [Math.cos(angle) * t.length * 1.3, Math.sin(angle) * t.length * 1.3];
    return { x1: x + t.at - dx, y1: 12 - dy, x2: x + t.at + dx, y2: 12 + dy };
  }));
  return svg("svg", { viewBox: "0 0 84 24", width: 84, height: 24, class: "level", "aria-hidden": "true" },
    line(5, "currentColor"),
    ...(look.hollow ? [line(2, "var(--paper)")] : []),
    ...strokes.map((s) => svg("line", { ...s, stroke: "var(--paper)", "stroke-width": 6 })),
    ...strokes.map((s) => svg("line", { ...s, stroke: "currentColor", "stroke-width": 2.5 })));
}
