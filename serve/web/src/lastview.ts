// Where the map was when a pack was last open on this device.
import { recall, remember } from "./keepsake";
import { readPlace, writePlace, type At } from "./place";

/** Keeps the view of a pack. */
export function keepView(pack: string, at: At | null): void {
  if (at !== null) remember(`view of ${pack}`, writePlace({ pack, at }));
}

/** The kept view of a pack, null for none. */
export function lastView(pack: string): At | null {
  return readPlace(recall(`view of ${pack}`)).at;
}
