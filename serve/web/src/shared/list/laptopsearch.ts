// Records of very many features are not loaded: the laptop is asked for their words, a page at a time.
import { getJSON } from "../lib/http";
import { say } from "../lib/words";
import type { Hit, RecordLayer } from "../records/layer";
import { parseFeatures } from "../records/load";

/** One page of what the laptop found in a record. */
interface FoundPage {
  hits: Hit[];
  /** how many match of those it looked at */
  matched: number;
  /** how many it looked at: fewer than all if it had no more time */
  searched: number;
  /** where the next page begins; null after the last */
  next: number | null;
}

/** Asks for the features of a record that hold some words, or for all, from a place in its order on. */
export async function askLaptop({ overlay }: RecordLayer, words: string, from: number): Promise<FoundPage> {
  const what = say("load.record_words", { title: overlay.title });
  const url = `${overlay.near ?? ""}&find=${encodeURIComponent(words)}&from=${from}`;
  const data = await getJSON<{ numberMatched?: number; numberSearched?: number; next?: number | null }>(url, what);
  const hits = parseFeatures(data, what).map((feature): Hit => ({ feature, overlay }));
  return { hits, matched: data.numberMatched ?? hits.length, searched: data.numberSearched ?? 0, next: data.next ?? null };
}
