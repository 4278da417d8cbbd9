// Where the map was when a pack was last open on this device.
import { getStored, setStored } from "../lib/storage";
import { formatViewHash, parseViewHash, type ViewPosition } from "./viewhash";

/** Keeps the view of a pack. */
export function saveView(pack: string, at: ViewPosition | null): void {
  if (at !== null) setStored(`view of ${pack}`, formatViewHash({ pack, at }));
}

/** The kept view of a pack, null for none. */
export function lastView(pack: string): ViewPosition | null {
  return parseViewHash(getStored(`view of ${pack}`)).at;
}
