// What measuring tools keep on this device until the person clears it. Whatever the storage
// holds is checked: anything else may have written there.
import { getStored, setStored } from "../lib/storage";
import type { PickedLine } from "./snap";
import type { Doubt, Spot } from "./doubt";

/** The spots and lines of one pack, with the seal of the version they were chosen in. */
interface Kept {
  seal: string;
  spots: Spot[];
  line: PickedLine | null;
}

/** Reads what was kept under a name; null for nothing, or nothing sound. */
export function readKept(name: string): Kept | null {
  try {
    const found: unknown = JSON.parse(getStored(name));
    return isObject(found) && typeof found.seal === "string" && Array.isArray(found.spots) && found.spots.every(isSpot)
      && (found.line === null || isLine(found.line)) ? { seal: found.seal, spots: found.spots, line: found.line } : null;
  } catch {
    return null;
  }
}

/** Keeps spots and a line; nothing at all where there are none. */
export function writeKept(name: string, kept: Kept): void {
  setStored(name, kept.spots.length === 0 && kept.line === null ? "" : JSON.stringify(kept));
}

const isObject = (v: unknown): v is Record<string, unknown> => typeof v === "object" && v !== null;
const areTexts = (...all: unknown[]): boolean => all.every((v) => typeof v === "string" && v.length < 1000);

function isPlace(v: unknown): v is [number, number] {
  return Array.isArray(v) && v.length === 2 && v.every((n) => Number.isFinite(n)) && Math.abs(v[0] as number) <= 180 && Math.abs(v[1] as number) <= 90;
}

const isDoubt = (v: unknown): v is Doubt =>
  isObject(v) && typeof v.atLeast === "boolean" && (v.metres === null || (typeof v.metres === "number" && v.metres > 0));

const isSpot = (v: unknown): v is Spot => isObject(v) && isPlace(v.at) && isDoubt(v.doubt) && areTexts(v.what, v.grounds, v.named);

const isLine = (v: unknown): v is PickedLine =>
  isObject(v) && Array.isArray(v.path) && v.path.length > 1 && v.path.every(isPlace) && isDoubt(v.doubt) && areTexts(v.what, v.grounds);
