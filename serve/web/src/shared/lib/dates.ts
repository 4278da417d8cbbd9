// Days and times as text, by this device's own clock and zone, with their age.
import { say } from "./words";

/**
 * The age of a date "YYYY", "YYYY-MM" or "YYYY-MM-DD…" in whole years, months
 * or days: "28 years ago"; "about 3 years ago" when the day is not stated.
 * "" when the text holds no date.
 */
export function ageText(date: string, now: Date): string {
  const m = /^\d{4}(-\d{2}(-\d{2})?)?/.exec(date);
  if (!m) return "";
  const stated = m[0];
  const current = localDay(now).slice(0, stated.length);
  if (stated > current) return say("date.future");
  if (stated === current) return stated.length === 4 ? say("date.this_year") : stated.length === 7 ? say("date.this_month") : say("date.today");
  // Without a day: the middle of the year, the first of the month.
  const then = stated.length === 4 ? `${stated}-07-01` : stated.length === 7 ? `${stated}-01` : stated;
  if (Number.isNaN(Date.parse(then))) return "";
  const about = (age: string) => (stated.length < 10 ? say("date.about", { age }) : age);
  const months = wholeMonths(then, localDay(now));
  if (months >= 24) return about(say("date.years_ago", { n: Math.floor(months / 12) }));
  if (months >= 2) return about(say("date.months_ago", { n: months }));
  const days = Math.max(1, Math.round((Date.parse(localDay(now)) - Date.parse(then)) / 86_400_000));
  return days === 1 ? say("date.yesterday") : about(say("date.days_ago", { n: days }));
}

/** Whole calendar months between two days "YYYY-MM-DD". */
function wholeMonths(from: string, to: string): number {
  const [y1, m1, d1] = from.split("-").map(Number) as [number, number, number];
  const [y2, m2, d2] = to.split("-").map(Number) as [number, number, number];
  return (y2 - y1) * 12 + (m2 - m1) - (d2 < d1 ? 1 : 0);
}

/** A date with a time of day and, where stated, a zone. */
const timed = /^(\d{4}-\d{2}-\d{2})[Tt ](\d{2}:\d{2})(?::\d{2}(?:\.\d+)?)?(Z|z|[+-]\d{2}:\d{2})?$/;

/** Whether a text is a date with a time of day. */
export function isTimestamp(text: string): boolean {
  return timed.test(text) && !Number.isNaN(instant(text).getTime());
}

/** A date with its age, a time of day by this device's clock: "2026-11-18, 8:10 AM, 7 days ago". */
export function dateText(date: string, now: Date): string {
  if (date === "") return say("date.not_stated");
  if (isTimestamp(date)) return timeText(date, now);
  return appendAge(date, date, now);
}

function appendAge(words: string, date: string, now: Date): string {
  const age = ageText(date, now);
  return age === "" ? words : say("date.with_age", { date: words, age });
}

function timeText(time: string, now: Date): string {
  const [, day = "", clock = "", zone] = timed.exec(time) ?? [];
  if (zone === undefined) return appendAge(say("date.no_zone", { day, clock: clockText(instant(`${day}T${clock}Z`), "UTC") }), day, now);
  const t = instant(time);
  return appendAge(say("date.moment", { day: localDay(t), clock: timeOfDay(t) }), localDay(t), now);
}

const instant = (time: string): Date => new Date(time.toUpperCase().replace(" ", "T"));

/** A time of day by this device's clock: "3:57 PM". */
export const timeOfDay = (t: Date): string => clockText(t);

function clockText(t: Date, timeZone?: string): string {
  return t.toLocaleTimeString("en-US", { hour: "numeric", minute: "2-digit", timeZone }).replace(/\s/g, " ");
}

/** A stated time; "" for the zero time, by which other programs mean none. */
export const statedTime = (time: string): string => (time.startsWith("0001-01-01") ? "" : time);

/** The local day of a timestamp, "2026-10-01"; of any other text its first ten characters. */
export function localDayOf(time: string): string {
  return isTimestamp(time) ? localDay(instant(time)) : time.slice(0, 10);
}

/** The days of two times: "2026-10-01 to 2026-10-03", or one day. */
export function dayRangeText(oldest: string, newest: string): string {
  const [from, to] = [localDayOf(oldest), localDayOf(newest)];
  return from === to ? from : say("date.days", { from, to });
}

/** The local day of an instant, "2026-10-01". */
export function localDay(now: Date): string {
  return [String(now.getFullYear()), ...[now.getMonth() + 1, now.getDate()].map((n) => String(n).padStart(2, "0"))].join("-");
}
