// The texts of the page, from the one file that page and program share.
import texts from "../../../../../tiles/words/words.json";

type Texts = typeof texts;
type Key = { [G in keyof Texts & string]: `${G}.${keyof Texts[G] & string}` }[keyof Texts & string];
type Value = string | number;

const field = /\{([a-z][a-z0-9_]*)((?:\|[^{}|]*)*)\}/g;

const all = texts as Record<string, Record<string, string>>;

/** Adds the texts of what was loaded later. */
export function addTexts(more: Record<string, Record<string, string>>): void {
  for (const [group, named] of Object.entries(more)) all[group] = { ...all[group], ...named };
}

/** The text of a key with its fields filled in, such as "{n} {n|line|lines}". */
export function say(key: Key, values: Record<string, Value> = {}): string {
  const [group = "", name = ""] = key.split(".");
  const text = all[group]?.[name] ?? key;
  return text.replace(field, (_, named: string, forms: string) => {
    const value = values[named] ?? "";
    return forms ? choose(String(value), forms.slice(1).split("|")) : String(value);
  });
}

function choose(n: string, forms: string[]): string {
  const at = n === "1" ? forms.length - 2 : n === "0" && forms.length === 3 ? 0 : forms.length - 1;
  return forms[Math.max(at, 0)] ?? "";
}
