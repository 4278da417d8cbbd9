// A depth as it is pressed on the pad, and what it means. Without a unit the small one is meant: inches, or centimeters.
import { foot, inch, type Units } from "../../shared/lib/units";

export type DepthKey = "0" | "1" | "2" | "3" | "4" | "5" | "6" | "7" | "8" | "9" | "." | "big" | "small" | "back";

/** The units of the pad: the large one, then the small one. */
export const padUnits: Record<Units, [big: string, small: string]> = { us: ["ft", "in"], metric: ["m", "cm"] };

/** What can be pressed so far, in each system: feet and inches, or one number. */
const forms: Record<Units, RegExp> = {
  us: /^(\d{1,3}(\.\d{0,3})?( ft ?)?|\d{1,3} ft \d{1,2}(\.\d?)?( in)?|\d{1,4}(\.\d{0,2})?( in)?)?$/,
  metric: /^\d{0,4}(\.\d{0,3})?( c?m)?$/,
};

/** The text after a press; the same where the press means nothing there. */
export function pressed(text: string, key: DepthKey, units: Units): string {
  if (key === "back") return / (ft|in|m|cm) ?$/.test(text) ? text.replace(/ \w+ ?$/, "") : text.slice(0, -1);
  const [big, small] = padUnits[units];
  const unit = key === "big" ? big : key === "small" ? small : "";
  const next = unit === "" ? text + key : `${text.trim()} ${unit}${unit === "ft" ? " " : ""}`;
  if (unit !== "" && !/\d\.?$/.test(text)) return text;
  return forms[units].test(next) ? next : text;
}

const [feetAndInches, oneNumber] = [/^(\d+(?:\.\d*)?) ft ?(?:(\d+(?:\.\d*)?)(?: in)?)?$/, /^(\d*\.?\d*)(?: (m|cm|in))?$/];

/** The meters of what was pressed; null where that is no length yet. In metric a point means meters. */
export function metresOf(text: string, units: Units): number | null {
  const typed = text.trim();
  if (!/\d/.test(typed)) return null;
  const both = feetAndInches.exec(typed);
  if (both) {
    const inches = Number(both[2] ?? 0);
    return inches >= 12 && both[2] !== undefined ? null : rounded(Number(both[1]) * foot + inches * inch);
  }
  const one = oneNumber.exec(typed);
  if (!one) return null;
  const [value, unit] = [Number(one[1]), one[2] ?? (units === "us" ? "in" : one[1]?.includes(".") ? "m" : "cm")];
  return rounded(value * { in: inch, cm: 0.01, m: 1 }[unit as "in" | "cm" | "m"]);
}

/** What was pressed, with the unit that was meant: as it is kept beside the meters. */
export function typedText(text: string, units: Units): string {
  const typed = text.trim();
  if (typed === "" || / (in|m|cm|ft)$/.test(typed)) return typed;
  if (typed.includes("ft")) return `${typed} in`;
  return `${typed} ${units === "us" ? "in" : typed.includes(".") ? "m" : "cm"}`;
}

/** The digits that only arithmetic made go: to a tenth of a micrometer, as the laptop does. */
const rounded = (metres: number): number => Math.round(metres * 1e7) / 1e7;

/** The text of a depth a step deeper or shallower than one, an inch or a centimeter, as it would be pressed. */
export function stepped(metres: number, steps: number, units: Units): string {
  const [big, small] = padUnits[units];
  const n = Math.max(0, Math.round(metres / (units === "us" ? inch : 0.01)) + steps);
  return units === "us" && n >= 12 ? `${Math.floor(n / 12)} ${big} ${n % 12} ${small}` : `${n} ${small}`;
}
