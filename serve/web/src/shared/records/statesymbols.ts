// The symbols of a line's state: strokes in ink across it, or a hollow middle. The dash shows
// the quality level, ticks and color the utility. The server sends these symbols.
import type { Overlay, StateSymbol } from "../lib/api";
import { boundedText, type Properties } from "./record";

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

/** The symbol of a state; undefined where it is drawn as in service. */
export const stateSymbol = (state: string): StateSymbol | undefined => served.find((l) => l.state === state);

/** The letters along a line: that of its utility, and its state where that has a symbol. */
export function lineLetters(o: Overlay, state: string): string {
  const word = stateSymbol(state)?.word ?? "";
  return word === "" ? o.letter : `${o.letter} ${word}`;
}
