// How words that were typed are compared with those of records: without case, accents, blanks
// and hyphens; all of several words must be found. The laptop does the same with records that
// are too many to be loaded (serve/overlay); testdata/find.json there holds both to it.

/** What begins like this is measured or understood, and not looked for. */
const unsearched = /^(geometry$|depth|accuracy|quality_level|status_as_read|kind_as_read|width_m|decimals|line_in_file|current_ma|frequency_hz)/;

/** The longest text that is looked for, and the most words of it. */
const [longest, mostWords] = [100, 8];

/** A text as it is compared: small letters without accents, and digits; a point only before a digit. */
export function folded(text: string): string {
  return text.normalize("NFD").toLowerCase().replace(/ß/g, "ss").replace(/[^\p{L}\p{N}.]+|\.(?!\d)/gu, "");
}

/** The words of a typed text. */
export function typedWords(text: string): string[] {
  return text.slice(0, longest).split(/\s+/u).map(folded).filter((w) => w !== "").slice(0, mostWords);
}

/** What can be found of a feature: its own values, one a line. */
export function searchedText(properties: Record<string, unknown>): string {
  const parts: string[] = [];
  for (const [key, value] of Object.entries(properties)) {
    if (unsearched.test(key)) continue;
    if (typeof value === "string" || typeof value === "number") parts.push(folded(String(value)));
  }
  return parts.join("\n");
}

/** How many of the words are the whole of a value: what comes first of all that is found. */
export function wholeMatches(words: string[], text: string): number {
  const values = text.split("\n");
  return words.filter((w) => values.includes(w)).length;
}

/** Whether all words are found. */
export const matches = (words: string[], text: string): boolean => words.every((w) => text.includes(w));
