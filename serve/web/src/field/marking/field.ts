// Fields of a form on a sheet: a label above, as large as a glove needs.
import { make } from "../../shared/lib/dom";

let count = 0;

interface FieldOptions {
  value: string;
  /** "decimal" shows the pad of numbers */
  mode?: "text" | "decimal";
  hint?: string;
  most?: number;
  long?: boolean;
  changed(value: string): void;
}

/** A field for text. */
export function textField(label: string, { value, mode = "text", hint = "", most = 200, long = false, changed }: FieldOptions): HTMLElement {
  const input = long ? make("textarea", "") : make("input", "");
  Object.assign(input, { id: `mark-field-${++count}`, value, maxLength: most, autocomplete: "off" });
  if (long) (input as HTMLTextAreaElement).rows = 3;
  else Object.assign(input, { type: "text", inputMode: mode });
  input.addEventListener("input", () => changed(input.value));
  return named(label, input, hint);
}

/** A field to choose one of several values. */
export function selectField(label: string, all: [value: string, text: string][], value: string, changed: (value: string) => void): HTMLElement {
  const select = make("select", "", ...all.map(([v, text]) => Object.assign(make("option", "", text), { value: v, selected: v === value })));
  select.id = `mark-field-${++count}`;
  select.addEventListener("change", () => changed(select.value));
  return named(label, select, "");
}

function named(label: string, input: HTMLElement, hint: string): HTMLElement {
  const name = make("label", "", label);
  name.htmlFor = input.id;
  const field = make("div", "mark-field", name, input);
  if (hint !== "") {
    const words = make("p", "hint", hint);
    words.id = `${input.id}-hint`;
    input.setAttribute("aria-describedby", words.id);
    field.append(words);
  }
  return field;
}

/** A number as people type it, with a point or a comma; null for none. */
export function numberIn(text: string): number | null {
  const v = Number(text.trim().replace(",", "."));
  return text.trim() !== "" && Number.isFinite(v) && v >= 0 ? v : null;
}
