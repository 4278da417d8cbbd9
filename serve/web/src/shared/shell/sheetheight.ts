// The heights of the sheet over the map: how high it opens, and where a drag leaves it.

/** The share of the screen's height that stays free map under an open sheet, with and without the controls over it. */
const freeShare = { tall: 0.54, low: 0.508 };
/** From this height of the screen on, in pixels, the controls stay over the map beside an open sheet (floats.css). */
const tallScreen = 700;
/** What can be read at least, in pixels, and what a full sheet leaves of the map. */
const least = 168;
const sliver = 56;
/** How far a drag is carried on by its speed, in milliseconds. */
const glideMs = 160;

export interface SheetHeights {
  first: number;
  full: number;
}

/** The heights between the top of the map and the bottom of the dock, in pixels, on a screen of a height. */
export function sheetHeights(top: number, bottom: number, screen: number): SheetHeights {
  const full = Math.max(least, bottom - top - sliver);
  const free = screen * (screen < tallScreen ? freeShare.low : freeShare.tall);
  return { first: Math.round(Math.min(full, Math.max(least, bottom - top - free))), full: Math.round(full) };
}

/** Where a drag ends that was let go at a height, at a speed in pixels a millisecond upward. */
export function settledAt(height: number, speed: number, { first, full }: SheetHeights): "closed" | "first" | "full" {
  const aim = height + speed * glideMs;
  if (aim < first * 0.6) return "closed";
  return aim > (first + full) / 2 ? "full" : "first";
}
