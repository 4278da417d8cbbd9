// Sizes, times and days as the command line and people write them.
import { localDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";

/** Bytes to three digits: "21.2 kB", "3.76 MB". */
export function sizeText(bytes: number): string {
  const units = ["B", "kB", "MB", "GB", "TB"];
  let [v, unit] = [bytes, 0];
  for (; v >= 999.5 && unit < units.length - 1; unit++) v /= 1000;
  return `${unit === 0 ? v : Number(v.toPrecision(3))} ${units[unit]}`;
}

/** Seconds as people say them: "8 s", "2 min", "1 h 5 min". */
export function durationText(seconds: number): string {
  const s = Math.max(1, Math.round(seconds));
  if (s < 60) return say("desk.seconds", { n: s });
  if (s < 3600) return say("desk.minutes", { n: Math.round(s / 60) });
  const [h, min] = [Math.floor(s / 3600), Math.round((s % 3600) / 60)];
  return min === 0 ? say("desk.hours", { h }) : say("desk.hours_minutes", { h, min });
}

const dayMs = 86_400_000;

/** Whole days from today to a day "YYYY-MM-DD", by this computer's calendar. */
export const daysUntil = (day: string, now: Date): number => Math.round((Date.parse(day) - Date.parse(localDay(now))) / dayMs);

/** A day near today as people say it: "Sat, Dec 12". */
export const weekdayText = (day: string): string => new Date(`${day}T12:00:00`).toLocaleDateString("en-US", { weekday: "short", month: "short", day: "numeric" });

/** When the ticket ends. */
export function ticketText(day: string, now: Date): string {
  if (day === "") return say("desk.no_ticket");
  const n = daysUntil(day, now);
  if (n < 0) return say("desk.ticket_ended", { when: weekdayText(day) });
  if (n === 0) return say("desk.ends_today");
  return n === 1 ? say("desk.ends_tomorrow") : say("desk.ends", { when: weekdayText(day) });
}

/** What a job without a name is called: the last part of its folder. */
export const folderName = (folder: string): string => folder.replace(/^.*[\\/]/, "");

/** What is wrong with a job, without the folder that it is of. */
export const withoutFolder = (text: string, folder: string): string => text.split(`${folder}/`).join("").split(`${folder}\\`).join("").replace(/^(.+?): \1: /, "$1: ");
