// The badges of the ticket's last valid day and of differing clocks.
import type { About } from "../../shared/lib/api";
import { byId, make, setHidden, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { clockWarning, daysByClock } from "../live/clock";

export type Ticket = NonNullable<About["ticket"]>;

/** A day without line breaks. */
const unbroken = (day: string) => day.replace(/-/g, "\u2011");

/** The badge of a ticket; bad when its last day is past by either clock. */
export function ticketBadge(ticket: Ticket, days: { phone: string; laptop: string }): { text: string; bad: boolean } {
  const numbered = ticket.number === "" ? say("ticket.no_number") : say("ticket.numbered", { number: ticket.number });
  const last = ticket.valid_until.slice(0, 10);
  if (last === "") return { text: say("ticket.no_day", { ticket: numbered }), bad: false };
  const day = unbroken(last);
  const here = last < days.phone;
  const there = days.laptop !== "" && last < days.laptop;
  if (!here && !there) {
    const now = last === days.phone || last === days.laptop;
    return { text: now ? say("ticket.today", { ticket: numbered, day }) : say("ticket.valid", { ticket: numbered, day }), bad: false };
  }
  const which = ticket.number === "" ? say("ticket.this") : numbered;
  if (here && (there || days.laptop === "")) return { text: say("ticket.expired", { ticket: which, day }), bad: true };
  return { text: here ? say("ticket.expired_here", { ticket: which, day }) : say("ticket.expired_there", { ticket: which, day }), bad: true };
}

/** Keeps both badges current, also past midnight; `ahead` is the phone's clock minus the laptop's, in milliseconds. */
export function makeTicket(about: About, ahead: () => number | null): () => void {
  const badge = make("li", "badge ticket");
  const clocks = make("li", "badge bad");
  clocks.id = "clocks";
  clocks.setAttribute("role", "status");
  byId("badges").append(...(about.ticket ? [badge] : []), clocks);
  let timer: ReturnType<typeof setTimeout> | undefined;
  const write = () => {
    clearTimeout(timer);
    if (document.hidden) return;
    timer = setTimeout(write, untilNextDay(new Date(), ahead()));
    if (about.ticket) {
      const { text, bad } = ticketBadge(about.ticket, daysByClock(new Date(), ahead()));
      setText(badge, text);
      badge.classList.toggle("bad", bad);
    }
    const differ = clockWarning(ahead());
    setText(clocks, differ);
    setHidden(clocks, differ === "");
  };
  write();
  document.addEventListener("visibilitychange", write);
  return write;
}

/** The time until a day begins by either clock, in milliseconds, and no more than an hour: clocks are set. */
function untilNextDay(now: Date, ahead: number | null): number {
  const left = (t: Date) => new Date(t.getFullYear(), t.getMonth(), t.getDate() + 1).getTime() - t.getTime();
  return Math.min(3_600_000, left(now), left(new Date(now.getTime() - (ahead ?? 0)))) + 1;
}
