// From the depth of a pipe's centre to that of its top: half of its size higher,
// where the size is known. Never a number where it is not.
import { metresOf, text, hasSignal, type Properties } from "./record";
import { depthText, type Units } from "./units";

const metres: Record<string, number> = { in: 0.0254, inch: 0.0254, inches: 0.0254, '"': 0.0254, "″": 0.0254, mm: 0.001, cm: 0.01, m: 1, ft: 0.3048 };

/** A recorded size as a length in metres, null for words that are none: "12 in", "3/4 in", "1 1/2\"", "300 mm". */
export function sizeMetres(size: string): number | null {
  const m = /^(?:(\d+(?:\.\d+)?)(?:[\s-]+(?=\d+\/))?)?(?:(\d+)\/(\d+))?\s*(inches|inch|in|"|″|mm|cm|m|ft)\.?$/i.exec(size.trim());
  if (!m || (m[1] === undefined && m[2] === undefined)) return null;
  const part = m[2] === undefined ? 0 : Number(m[2]) / Number(m[3]);
  const v = (Number(m[1] ?? 0) + part) * (metres[(m[4] ?? "").toLowerCase()] ?? NaN);
  return v > 0 && v <= 10 ? v : null; // as wide as the office takes it for a size
}

/** Whether a depth is to the centre of a line: so it says, or it is that of a signal and nothing else is said. */
function toCentre(f: Properties): boolean {
  const to = text(f.get("depth_of"));
  return to === "" ? hasSignal(f) : /cent(er|re)/i.test(to);
}

/** What is known of the top of a pipe; "" where the depth is to something else, or there is none. */
export function topText(f: Properties, units: Units): string {
  const depth = metresOf(f, "depth_m");
  if (depth === null || !toCentre(f)) return "";
  const words = text(f.get("size"));
  const size = sizeMetres(words);
  if (size === null) return "not known: the size is not recorded. It is higher than the depth by half of the size.";
  const top = depth - size / 2;
  if (top <= 0) return `at the ground or above it by these numbers, with half of the size (${words}) taken off: one of them is wrong`;
  return `about ${depthText(top, units)}: half of the size (${words}) taken off. Many pipes are wider outside than their size says: then it is higher.`;
}
