// What a search found, what was searched and what was not.
import { say } from "../lib/words";
import { countOf, type Group, type Listing } from "./listing";
import { type Asked, thousands } from "./sections";
import { matches, wholeMatches } from "./textmatch";

export type Groups = Pick<Listing, "inside" | "around">;

/** The entries that hold all words. */
export function filtered(listing: Listing, words: string[]): Groups {
  if (words.length === 0) return listing;
  const of = (g: Group): Group => {
    const found = g.entries.filter((e) => matches(words, e.text())).map((e) => ({ e, whole: wholeMatches(words, e.text()) }));
    return { ...g, entries: found.sort((a, b) => b.whole - a.whole).map(({ e }) => e) };
  };
  const only = (groups: Group[]) => groups.map(of).filter((g) => g.entries.length > 0);
  return { inside: listing.inside && only(listing.inside), around: only(listing.around) };
}

/** Notes what the laptop said of a record: the first page counts, and an answer after a failure. */
export function noteAsked(all: Asked[], one: Asked): void {
  const at = all.findIndex((a) => a.layer === one.layer);
  if (at < 0) all.push(one);
  else if (all[at]?.fault !== "") all[at] = one;
}

/** What was found, and what was searched and what was not. */
export function countText(typed: string, loaded: number, listing: Listing, asked: Asked[]): string {
  const n = loaded + asked.reduce((sum, a) => sum + a.matched, 0);
  const all = countOf(listing.inside ?? []) + countOf(listing.around);
  const open = listing.tiled.some((l) => asked.every((a) => a.layer !== l)); // then nothing found is not said yet
  const parts = [n > 0 ? say("find.count", { n }) : open ? "" : say("find.none", { typed }), say("find.searched", { n: all })];
  for (const l of listing.tiled) {
    const a = asked.find((one) => one.layer === l);
    const { title, features } = l.overlay;
    if (a === undefined) parts.push(say("find.asking", { title }));
    else if (a.fault !== "") parts.push(say("find.not_asked", { title, n: thousands(features), fault: a.fault }));
    else parts.push(a.searched < features ? say("find.asked_part", { title, n: thousands(a.searched), all: thousands(features) }) : say("find.asked", { title, n: thousands(features) }));
  }
  for (const m of listing.missing) parts.push(say("find.missing", { title: m.overlay.title }));
  return parts.filter((p) => p !== "").join(" ");
}
