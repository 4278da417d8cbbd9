// Days and times for people: as on this phone's clock, with their age.

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

/** A time of day after a date: hours and minutes, and the zone where it is stated. */
const timed = /^(\d{4}-\d{2}-\d{2})[Tt ](\d{2}:\d{2})(?::\d{2}(?:\.\d+)?)?(Z|z|[+-]\d{2}:\d{2})?$/;

/** Whether a text is a date with a time of day. */
export function isTime(text: string): boolean {
  return timed.test(text) && !Number.isNaN(instant(text).getTime());
}

/**
 * A date with its age, or the words for an unknown one. A time of day is turned
 * to the phone's zone, which is named: "2026-11-18, 08:10 (UTC−7), 7 days ago".
 */
export function dateText(date: string, now: Date): string {
  if (date === "") return "date not stated";
  if (isTime(date)) return timeText(date, now);
  return withAge(date, date, now);
}

function withAge(words: string, date: string, now: Date): string {
  const age = ageText(date, now);
  return age === "" ? words : `${words}, ${age}`;
}

function timeText(time: string, now: Date): string {
  const [, day = "", clock = "", zone] = timed.exec(time) ?? [];
  if (zone === undefined) return withAge(`${day}, ${clock} (zone not stated)`, day, now);
  const t = instant(time);
  const here = today(t);
  return withAge(`${here}, ${two(t.getHours())}:${two(t.getMinutes())} (${zoneText(t)})`, here, now);
}

function instant(time: string): Date {
  return new Date(time.toUpperCase().replace(" ", "T"));
}

/** The phone's zone at a time: "UTC", "UTC−7", "UTC+5:30". */
function zoneText(t: Date): string {
  const ahead = -t.getTimezoneOffset();
  if (ahead === 0) return "UTC";
  const minutes = Math.abs(ahead) % 60;
  const hours = Math.floor(Math.abs(ahead) / 60);
  return `UTC${ahead < 0 ? "−" : "+"}${hours}${minutes === 0 ? "" : `:${two(minutes)}`}`;
}

/** A time as it was stated; "" for the zero time, which stands for none in files of other programs. */
export function stated(time: string): string {
  return time.startsWith("0001-01-01") ? "" : time;
}

/** The day of a time on this phone, "2026-10-01"; a text that is no time keeps its first ten signs. */
export function dayOf(time: string): string {
  return isTime(time) ? today(instant(time)) : time.slice(0, 10);
}

/** The days of two times: "2026-10-01 to 2026-10-03", or the one day. */
export function daysText(oldest: string, newest: string): string {
  const [from, to] = [dayOf(oldest), dayOf(newest)];
  return from === to ? from : `${from} to ${to}`;
}

/** The day of an instant on this device, "2026-10-01". */
export function today(now: Date): string {
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

function two(n: number): string {
  return String(n).padStart(2, "0");
}
