// Two clocks: the phone's, by which ages are told, and the laptop's. Neither is
// known to be right; where they differ, that is said.
import { localDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";

/** From this on, in milliseconds, the clocks are said to differ. */
const toleranceMs = 2 * 60_000;

/** How far the phone's clock is ahead of the laptop's, in milliseconds, by an answer that was asked for and came at phone times. */
export function clockAhead(date: string | null, asked: number, came: number): number | null {
  const there = date === null ? NaN : Date.parse(date);
  if (Number.isNaN(there)) return null;
  return (asked + came) / 2 - (there + 500); // the answer's date is cut to a second
}

/** What is to be said of the two clocks, "" for nothing. */
export function clockWarning(ahead: number | null): string {
  if (ahead === null || Math.abs(ahead) <= toleranceMs) return "";
  const span = spanText(Math.abs(ahead));
  return ahead > 0 ? say("clock.ahead_of_laptop", { span }) : say("clock.behind_laptop", { span });
}

/** A span of time in its two largest units: "2 h 5 min", "3 days 4 h". */
export function spanText(ms: number): string {
  const min = Math.round(ms / 60_000);
  const [days, hours, minutes] = [Math.floor(min / 1440), Math.floor((min % 1440) / 60), min % 60];
  const parts = [[days, say("date.span_days", { n: days })], [hours, `${hours} h`], [minutes, `${minutes} min`]] as const;
  const first = parts.findIndex(([n]) => n > 0);
  if (first < 0) return say("date.span_less");
  return parts.slice(first, first + 2).filter(([n]) => n > 0).map(([, part]) => part).join(" ");
}

/** The day it is, by the phone and by the laptop, in the phone's zone; the laptop's is "" when it is not known. */
export function daysByClock(now: Date, ahead: number | null): { phone: string; laptop: string } {
  return { phone: localDay(now), laptop: ahead === null ? "" : localDay(new Date(now.getTime() - ahead)) };
}
