// The part of the address after "#", which names the open pack and the view; and the last view of each pack on this device.
import { getStored, setStored } from "../lib/storage";

/** A view by its center in degrees and its zoom. */
export interface ViewPosition {
  lat: number;
  lon: number;
  zoom: number;
}

interface ViewHash {
  pack: string;
  at: ViewPosition | null;
}

/** Parses "#pack=cutbank&at=40.01234,-105.01234,19.3"; an invalid part counts as absent. */
export function parseViewHash(hash: string): ViewHash {
  const parts = new URLSearchParams(hash.replace(/^#/, ""));
  const numbers = (parts.get("at") ?? "").split(",");
  const [lat, lon, zoom] = numbers.map((s) => (s.trim() === "" ? NaN : Number(s)));
  let at: ViewPosition | null = null;
  if (
    numbers.length === 3 && lat !== undefined && lon !== undefined && zoom !== undefined &&
    Math.abs(lat) <= 85 && Math.abs(lon) <= 180 && zoom >= 0 && zoom <= 40
  ) {
    at = { lat, lon, zoom };
  }
  return { pack: parts.get("pack") ?? "", at };
}

/** Formats a hash for parseViewHash; 7 decimals of a degree are about a centimeter. */
export function formatViewHash(p: ViewHash): string {
  const pack = `#pack=${encodeURIComponent(p.pack)}`;
  if (p.at === null) return pack;
  return `${pack}&at=${p.at.lat.toFixed(7)},${p.at.lon.toFixed(7)},${p.at.zoom.toFixed(2)}`;
}

/** Stores the view of a pack. */
export function saveView(pack: string, at: ViewPosition | null): void {
  if (at !== null) setStored(`view of ${pack}`, formatViewHash({ pack, at }));
}

/** The stored view of a pack, null for none. */
export const lastView = (pack: string): ViewPosition | null => parseViewHash(getStored(`view of ${pack}`)).at;
