// The marks of a book: what all entries of each come to, by the laptop's own rules (pack/fieldbook/fold.go). The newest leads; what
// two wrote at once is kept beside it.
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
  /** what it is now, by the entry that wrote it */
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

/** When an entry was written, by its writer's clock less what that was known to be ahead, in milliseconds since 1970. */
export const writtenAt = ({ entry: e }: Known): number => (Date.parse(e.clock) || 0) - (e.clock_ahead_s ?? 0) * 1000;

function older(a: Known, b: Known): number {
  return writtenAt(a) - writtenAt(b) || (a.entry.id < b.entry.id ? -1 : a.entry.id > b.entry.id ? 1 : 0);
}

/** What the entries of one mark come to; null where none of them writes it. A refused one counts only where there is no other. */
export function foldMark(id: string, entries: Known[]): Mark | null {
  const taken = entries.filter((k) => k.refused === undefined);
  const all = [...(taken.length > 0 ? taken : entries)].sort(older);
  const followed = new Set(all.flatMap((k) => k.entry.after));
  const unfollowed = all.filter((k) => !followed.has(k.entry.id));
  const newest = (unfollowed.length > 0 ? unfollowed : all).reverse();
  const leading = newest[0];
  const feature = leading === undefined ? null : writtenBefore(leading, [...all].sort(older));
  if (leading === undefined || feature === null) return null;
  return {
    id, feature, leading, rivals: newest.slice(1), struck: leading.entry.action === "strike" ? leading : null,
    tips: newest.map((k) => k.entry.id), history: [...entries].sort(older),
  };
}

/** The newest write that an entry follows, itself if it is one; where those in between are not known, the newest of the mark. */
function writtenBefore(k: Known, all: Known[]): MarkFeature | null {
  const byId = new Map(all.map((h) => [h.entry.id, h]));
  const reached = new Set<string>();
  let found: Known | null = null;
  for (const open = [k.entry.id]; open.length > 0;) {
    const at = byId.get(open.shift() ?? "");
    if (at === undefined || reached.has(at.entry.id)) continue;
    reached.add(at.entry.id);
    if (at.entry.action !== "write") open.push(...at.entry.after);
    else if (found === null || older(found, at) < 0) found = at;
  }
  return (found ?? [...all].reverse().find((h) => h.entry.action === "write"))?.entry.feature ?? null;
}
