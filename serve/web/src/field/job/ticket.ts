// The ticket's last valid day, by this device's clock and by the laptop's.
import type { About } from "../../shared/lib/api";
import { say } from "../../shared/lib/words";

type Ticket = NonNullable<About["ticket"]>;
/** The day by either clock; "" for a clock that is not known. */
type Days = { phone: string; laptop: string };

/** A day without line breaks. */
const unbroken = (day: string) => day.replace(/-/g, "\u2011");
const lastDay = (ticket: Ticket) => ticket.valid_until.slice(0, 10);

/** By which clocks the last day is past. */
function past(ticket: Ticket, days: Days): "" | "both" | "phone" | "laptop" {
  const last = lastDay(ticket);
  if (last === "") return "";
  const here = last < days.phone;
  const there = days.laptop !== "" && last < days.laptop;
  if (here && (there || days.laptop === "")) return "both";
  return here ? "phone" : there ? "laptop" : "";
}

/** The ticket in a sentence. */
export function ticketText(ticket: Ticket, days: Days): string {
  const numbered = ticket.number === "" ? say("ticket.no_number") : say("ticket.numbered", { number: ticket.number });
  const last = lastDay(ticket);
  if (last === "") return say("ticket.no_day", { ticket: numbered });
  const day = unbroken(last);
  const which = ticket.number === "" ? say("ticket.this") : numbered;
  switch (past(ticket, days)) {
    case "both": return say("ticket.expired", { ticket: which, day });
    case "phone": return say("ticket.expired_here", { ticket: which, day });
    case "laptop": return say("ticket.expired_there", { ticket: which, day });
    default: return last === days.phone || last === days.laptop ? say("ticket.today", { ticket: numbered, day }) : say("ticket.valid", { ticket: numbered, day });
  }
}

/** That a ticket has ended, in a few words; "" while it has not. */
export function ticketEnded(ticket: Ticket, days: Days): string {
  switch (past(ticket, days)) {
    case "both": return say("status.expired", { day: unbroken(lastDay(ticket)) });
    case "phone": return say("status.expired_here");
    case "laptop": return say("status.expired_there");
    default: return "";
  }
}

/** The ticket's last day in a few words. */
export function dueText(ticket: Ticket, days: Days): string {
  const last = lastDay(ticket);
  if (last === "") return say("status.due_not_stated");
  return last === days.phone || last === days.laptop ? say("status.due_today") : say("status.due", { day: unbroken(last) });
}

/** The time until a day begins by either clock, in milliseconds, and no more than an hour: clocks are set. */
export function untilNextDay(now: Date, ahead: number | null): number {
  const left = (t: Date) => new Date(t.getFullYear(), t.getMonth(), t.getDate() + 1).getTime() - t.getTime();
  return Math.min(3_600_000, left(now), left(new Date(now.getTime() - (ahead ?? 0)))) + 1;
}
