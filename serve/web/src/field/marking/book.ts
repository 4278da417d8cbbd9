// All marks of a pack: those of the laptop's book, and those that are only on this phone.
import { request } from "../../shared/lib/http";
import { type Entry, parseEntry } from "./entry";
import { foldMark, type Known, type Mark } from "./fold";
import type { KeptEntry } from "./store";

/** The answer about the book. */
export interface BookInfo {
  role: string;
  latest: number;
  /** the laptop's free room in bytes; null while not known */
  room?: number | null;
}

interface EntryOfBook {
  number: number;
  received: string;
  text: string;
}

interface Answer {
  /** identity of the book */
  book: string;
  entries: EntryOfBook[];
  latest: number;
  /** entries up to this number had come home when the pack was made */
  home?: number;
}

interface Book {
  marks(): Mark[];
  mark(id: string): Mark | undefined;
  /** Whether all that is known of a mark had come home when the pack was made. */
  atHome(mark: Mark): boolean;
  /** Takes over what this phone keeps. */
  own(kept: KeptEntry[]): void;
  /** Whether an entry is in the laptop's book, as far as it was fetched. */
  has(entry: string): boolean;
  /** Fetches what is new in the laptop's book; false where the laptop does not answer. */
  pull(): Promise<boolean>;
}

/** `changed` runs with the marks that are new or otherwise than before. */
export function makeBook(url: string, changed: (marks: string[]) => void): Book {
  const known = new Map<string, Known>(); // by entry
  const ofMark = new Map<string, Set<string>>();
  const folded = new Map<string, Mark>();
  let mine: KeptEntry[] = [];
  let [latest, home, name] = [0, 0, ""];
  let pulling: Promise<boolean> | null = null;

  const put = (k: Known, touched: Set<string>) => {
    const before = known.get(k.entry.id);
    if (before !== undefined && before.number === k.number && before.refused === k.refused) return;
    if (before?.received !== undefined && k.received === undefined) return; // the laptop's word counts more
    known.set(k.entry.id, { ...before, ...k });
    const all = ofMark.get(k.entry.mark) ?? new Set();
    ofMark.set(k.entry.mark, all.add(k.entry.id));
    touched.add(k.entry.mark);
  };
  const refold = (touched: Set<string>) => {
    for (const id of touched) {
      const mark = foldMark(id, [...ofMark.get(id) ?? []].flatMap((e) => known.get(e) ?? []));
      if (mark === null) folded.delete(id);
      else folded.set(id, mark);
    }
    if (touched.size > 0) changed([...touched]);
  };
  const takeOwn = (touched: Set<string>) => {
    for (const e of mine) {
      const entry = parseEntry(e.text);
      if (entry === null) continue;
      put({ entry, number: e.state === "confirmed" ? e.number : null, ...(e.state === "refused" ? { refused: e.why } : {}) }, touched);
    }
  };
  const pullAll = async (): Promise<boolean> => {
    for (;;) {
      const answer = await request(`${url}/entries?after=${latest}`, { cache: "no-store" });
      if (!answer.ok) return false;
      const { book, entries, latest: newest, home: upTo = 0 } = (await answer.json()) as Answer;
      const other = latest > 0 && book !== name;
      name = book;
      if (newest < latest || other) { // another book took its place
        [latest, home] = [0, 0];
        const gone = new Set(ofMark.keys());
        for (const all of [known, ofMark]) all.clear();
        takeOwn(gone);
        refold(gone);
        continue;
      }
      const touched = new Set<string>();
      for (const e of entries) {
        const entry: Entry | null = parseEntry(e.text);
        if (entry !== null) put({ entry, number: e.number, received: e.received }, touched);
        latest = Math.max(latest, e.number);
      }
      const moved = upTo !== home;
      home = upTo;
      refold(touched);
      if (moved) changed([...folded.keys()]);
      if (entries.length === 0 || latest >= newest) return true;
    }
  };
  return {
    marks: () => [...folded.values()],
    mark: (id) => folded.get(id),
    // By what was fetched alone: the number of an entry that only this phone has may be of another book.
    atHome: ({ history }) => history.every((k) => k.received !== undefined && k.number !== null && k.number <= home),
    has: (entry) => known.get(entry)?.received !== undefined,
    own(kept) {
      mine = kept;
      const touched = new Set<string>();
      takeOwn(touched);
      refold(touched);
    },
    pull() {
      pulling ??= pullAll().catch(() => false).then((reached) => {
        pulling = null;
        return reached;
      });
      return pulling;
    },
  };
}
