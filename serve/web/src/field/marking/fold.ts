// The marks of a book: what all entries of each come to. The newest leads; what two wrote at once is kept beside it.
import type { Entry, MarkFeature } from "./entry";

/** An entry, and where it is. */
export interface Known {
  entry: Entry;
  /** its number in the book; null while it is only on this phone */
  number: number | null;
  /** when the laptop received it, by its clock */
  received?: string;
  /** why the laptop did not take it */
  refused?: string;
}

export interface Mark {
  id: string;
  /** what it is now, by its newest entry that writes */
  feature: MarkFeature;
  leading: Known;
  /** other newest entries, which were written without having seen the leading one */
  rivals: Known[];
  /** the strike that holds now; null for none */
  struck: Known | null;
  /** IDs of all newest entries: what the next one follows */
  tips: string[];
  /** all entries, oldest first */
  history: Known[];
}

/** The order of entries: by their numbers, then those only on this phone by its clock. */
function inOrder(a: Known, b: Known): number {
  if (a.number !== null && b.number !== null) return a.number - b.number;
  if (a.number !== null || b.number !== null) return a.number !== null ? -1 : 1;
  return a.entry.clock < b.entry.clock ? -1 : a.entry.clock > b.entry.clock ? 1 : 0;
}

/** What the entries of one mark come to; null where none of them writes it. */
export function foldMark(id: string, entries: Known[]): Mark | null {
  const counted = entries.filter((k) => k.refused === undefined);
  const history = [...(counted.length > 0 ? counted : entries)].sort(inOrder);
  const seen = new Set(history.flatMap((k) => k.entry.after));
  const tips = history.filter((k) => !seen.has(k.entry.id));
  const leading = tips[tips.length - 1] ?? history[history.length - 1];
  const feature = leading === undefined ? null : featureOf(leading, history);
  if (leading === undefined || feature === null) return null;
  return {
    id, feature, leading, rivals: tips.filter((k) => k !== leading), struck: leading.entry.action === "strike" ? leading : null,
    tips: tips.map((k) => k.entry.id), history: [...entries].sort(inOrder),
  };
}

/** What an entry writes, or what was written before the strike or restoring that it is. */
function featureOf(k: Known, history: Known[]): MarkFeature | null {
  const byId = new Map(history.map((h) => [h.entry.id, h]));
  const asked = new Set<string>();
  for (let queue: Known[] = [k]; queue.length > 0;) {
    const [next, ...rest] = queue.sort(inOrder).reverse() as [Known, ...Known[]];
    if (next.entry.feature !== null) return next.entry.feature;
    asked.add(next.entry.id);
    queue = [...rest, ...next.entry.after.flatMap((id) => (asked.has(id) ? [] : byId.get(id) ?? []))];
  }
  return [...history].reverse().find((h) => h.entry.feature !== null)?.entry.feature ?? null;
}
