// The last view of each pack on this device.
import { getStored, setStored } from "../lib/storage";
import { formatViewHash, parseViewHash, type ViewPosition } from "./viewhash";

/** Stores the view of a pack. */
export function saveView(pack: string, at: ViewPosition | null): void {
  if (at !== null) setStored(`view of ${pack}`, formatViewHash({ pack, at }));
}

/** The stored view of a pack, null for none. */
export const lastView = (pack: string): ViewPosition | null => parseViewHash(getStored(`view of ${pack}`)).at;
