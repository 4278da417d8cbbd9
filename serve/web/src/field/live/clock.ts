// Two clocks, the phone's, which ages use, and the laptop's. Either may be wrong; a difference is shown.
import { localDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";

/** The difference between clocks that is not shown yet, in milliseconds. */
const toleranceMs = 2 * 60_000;

/** The phone's clock minus the laptop's, in milliseconds, from a response's Date and the phone's times of request and response. */
export function clockAhead(date: string | null, asked: number, came: number): number | null {
  const there = date === null ? NaN : Date.parse(date);
  if (Number.isNaN(there)) return null;
  return (asked + came) / 2 - (there + 500); // the Date header is truncated to a second
}

/** The warning about clocks that differ, "" for none. */
export function clockWarning(ahead: number | null): string {
  if (ahead === null || Math.abs(ahead) <= toleranceMs) return "";
  const span = spanText(Math.abs(ahead));
  return ahead > 0 ? say("clock.ahead_of_laptop", { span }) : say("clock.behind_laptop", { span });
}

/** A duration in its two largest units: "2 h 5 min", "3 days 4 h". */
export function spanText(ms: number): string {
  const min = Math.round(ms / 60_000);
  const [days, hours, minutes] = [Math.floor(min / 1440), Math.floor((min % 1440) / 60), min % 60];
  const parts = [[days, say("date.span_days", { n: days })], [hours, `${hours} h`], [minutes, `${minutes} min`]] as const;
  const first = parts.findIndex(([n]) => n > 0);
  if (first < 0) return say("date.span_less");
  return parts.slice(first, first + 2).filter(([n]) => n > 0).map(([, part]) => part).join(" ");
}

/** The current day by either clock, in the phone's zone; "" for the laptop while its clock is unknown. */
export function daysByClock(now: Date, ahead: number | null): { phone: string; laptop: string } {
  return { phone: localDay(now), laptop: ahead === null ? "" : localDay(new Date(now.getTime() - ahead)) };
}
