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

/** When an entry was written, by its phone's clock less what that was known to be ahead, in milliseconds. */
export const writtenAt = ({ entry: e }: Known) => Date.parse(e.clock) - Math.round((e.clock_ahead_s ?? 0) * 1000);

/** The order of entries, the same on every phone and laptop (pack/fieldbook): in which order they arrived does not matter. */
const inOrder = (a: Known, b: Known): number =>
  writtenAt(a) - writtenAt(b) || (a.entry.id < b.entry.id ? -1 : a.entry.id > b.entry.id ? 1 : 0);

/** What the entries of one mark come to; null where none of them writes it. */
export function foldMark(id: string, entries: Known[]): Mark | null {
  const counted = entries.filter((k) => k.refused === undefined);
  const history = [...(counted.length > 0 ? counted : entries)].sort(inOrder);
  const seen = new Set(history.flatMap((k) => k.entry.after));
  const unseen = history.filter((k) => !seen.has(k.entry.id));
  const tips = unseen.length > 0 ? unseen : history; // a ring of entries was written by nobody
  const leading = tips[tips.length - 1];
  const feature = leading === undefined ? null : featureOf(leading, history);
  if (leading === undefined || feature === null) return null;
  return {
    id, feature, leading, rivals: tips.filter((k) => k !== leading), struck: leading.entry.action === "strike" ? leading : null,
    tips: tips.map((k) => k.entry.id), history: [...entries].sort(inOrder),
  };
}

/** The newest of what an entry writes or saw written before the strike or restoring that it is. */
function featureOf(k: Known, history: Known[]): MarkFeature | null {
  const byId = new Map(history.map((h) => [h.entry.id, h]));
  const reached = new Set<Known>();
  for (const queue = [k]; queue.length > 0;) {
    const next = queue.pop() as Known;
    if (reached.has(next)) continue;
    reached.add(next);
    if (next.entry.feature === null) queue.push(...next.entry.after.flatMap((id) => byId.get(id) ?? []));
  }
  const newest = (all: Known[]) => all.filter((h) => h.entry.feature !== null).sort(inOrder).pop()?.entry.feature ?? null;
  return newest([...reached]) ?? newest([...history]);
}
