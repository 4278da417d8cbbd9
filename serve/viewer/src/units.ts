// Numbers for people: every number leaves here with its unit.

export type Units = "us" | "metric";

/** The international foot and inch in metres (exact since 1959). */
const inch = 0.0254;
const foot = 12 * inch;
const mile = 5280 * foot;

/** A depth: feet and inches to the inch ("3′ 5″"), or metres to the centimetre. */
export function depthText(metres: number, units: Units): string {
  if (units === "metric") return `${metres.toFixed(2)} m`;
  const all = Math.round(Math.abs(metres) / inch);
  const sign = metres < 0 && all > 0 ? "−" : "";
  const ft = Math.floor(all / 12);
  return sign + (ft > 0 ? `${ft}′ ${all % 12}″` : `${all}″`);
}

/** A length or an accuracy: "24 in", "4.9 ft", "60 cm", "1.2 m". */
export function lengthText(metres: number, units: Units): string {
  if (units === "us") {
    return metres < 3 * foot - 1e-9 ? `${digits(metres / inch, 2)} in` : `${digits(metres / foot, 2)} ft`;
  }
  return metres < 1 ? `${digits(metres * 100, 2)} cm` : `${digits(metres, 2)} m`;
}

/** What one pixel is on the ground, to two digits: "2.3 in", "5.7 cm". */
export function pixelText(metres: number, units: Units): string {
  if (units === "us") return lengthText(metres, units);
  return metres < 0.01 ? `${digits(metres * 1000, 2)} mm` : lengthText(metres, units);
}

/** At least n significant digits, no zeros after the last one, no exponent. */
function digits(v: number, n: number): string {
  if (v === 0) return "0";
  const places = Math.max(0, n - 1 - Math.floor(Math.log10(Math.abs(v))));
  return String(Number(v.toFixed(Math.min(places, 6))));
}

interface Step {
  metres: number;
  text: string;
}

const usSteps: Step[] = [
  ...[1, 2, 4, 8].map((n) => ({ metres: n * inch, text: `${n} in` })),
  ...[1, 2, 4, 8, 20, 40, 80, 200, 400, 1000, 2000].map((n) => ({ metres: n * foot, text: `${n} ft` })),
  ...[1, 2, 4, 8, 20, 40, 80].map((n) => ({ metres: n * mile, text: `${n} mi` })),
];

const metricSteps: Step[] = [
  ...[1, 2, 4, 10, 20, 40].map((n) => ({ metres: n / 100, text: `${n} cm` })),
  ...[1, 2, 4, 10, 20, 40, 100, 200, 400].map((n) => ({ metres: n, text: `${n} m` })),
  ...[1, 2, 4, 10, 20, 40, 100].map((n) => ({ metres: n * 1000, text: `${n} km` })),
];

/**
 * The longest round length that fits in `room` pixels, for a ground resolution
 * in metres a pixel; its width in pixels and its text.
 */
export function scaleBar(resolution: number, room: number, units: Units): { width: number; text: string } {
  const steps = units === "us" ? usSteps : metricSteps;
  let best = steps[0] as Step;
  for (const s of steps) {
    if (s.metres / resolution <= room) best = s;
  }
  return { width: best.metres / resolution, text: best.text };
}

/**
 * The age of a date "YYYY", "YYYY-MM" or "YYYY-MM-DD…" in whole years, months
 * or days: "28 years ago"; "about 3 years ago" when the day is not stated.
 * "" when the text holds no date.
 */
export function ageText(date: string, now: Date): string {
  const m = /^\d{4}(-\d{2}(-\d{2})?)?/.exec(date);
  if (!m) return "";
  const stated = m[0];
  const current = today(now).slice(0, stated.length);
  if (stated > current) return "a date still to come";
  if (stated === current) return stated.length === 4 ? "this year" : stated.length === 7 ? "this month" : "today";
  // The middle of a year and the start of a month stand in for a day not stated.
  const then = stated.length === 4 ? `${stated}-07-01` : stated.length === 7 ? `${stated}-01` : stated;
  if (Number.isNaN(Date.parse(then))) return "";
  const about = stated.length < 10 ? "about " : "";
  const months = wholeMonths(then, today(now));
  if (months >= 24) return `${about}${Math.floor(months / 12)} years ago`;
  if (months >= 2) return `${about}${months} months ago`;
  const days = Math.max(1, Math.round((Date.parse(today(now)) - Date.parse(then)) / 86_400_000));
  return days === 1 ? "yesterday" : `${about}${days} days ago`;
}

/** Full months of the calendar between two days "YYYY-MM-DD". */
function wholeMonths(from: string, to: string): number {
  const [y1, m1, d1] = from.split("-").map(Number) as [number, number, number];
  const [y2, m2, d2] = to.split("-").map(Number) as [number, number, number];
  return (y2 - y1) * 12 + (m2 - m1) - (d2 < d1 ? 1 : 0);
}

/** A date with its age, or the words for an unknown one. */
export function dateText(date: string, now: Date): string {
  if (date === "") return "date not stated";
  const age = ageText(date, now);
  return age === "" ? date : `${date}, ${age}`;
}

/** The day of a time as written, "2026-10-01". */
export function dayOf(time: string): string {
  return time.slice(0, 10);
}

/** Today on this device, "2026-10-01", for comparing with a stated last day. */
export function today(now: Date): string {
  const two = (n: number) => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
