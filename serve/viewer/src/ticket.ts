// The ticket's last valid day and the clocks, in the head of the page.
import { bothDays, differText } from "./clock";
import { byId, make } from "./dom";
import type { About } from "./types";

export type Ticket = NonNullable<About["ticket"]>;

/** A day that no line break tears apart. */
const unbroken = (day: string) => day.replace(/-/g, "\u2011");

/** What a ticket's badge says; bad when its last day is past by either clock. */
export function ticketWords(ticket: Ticket, days: { phone: string; laptop: string }): { text: string; bad: boolean } {
  const head = `Ticket ${ticket.number === "" ? "number not stated" : ticket.number}`;
  const last = ticket.valid_until.slice(0, 10);
  if (last === "") return { text: `${head} · last valid day not stated`, bad: false };
  const here = last < days.phone;
  const there = days.laptop !== "" && last < days.laptop;
  if (!here && !there) {
    const now = last === days.phone || last === days.laptop;
    return { text: `${head} · last valid day ${unbroken(last)}${now ? ", today" : ""}`, bad: false };
  }
  const whose = here && (there || days.laptop === "") ? "" : here ? " by this device's clock" : " by the laptop's clock";
  return { text: `${head} · ENDED${whose}, last valid day was ${unbroken(last)}`, bad: true };
}

/** Keeps both badges true to the clocks, also past midnight; `ahead` is the phone's lead in milliseconds. */
export function makeTicket(about: About, ahead: () => number | null): () => void {
  const badge = make("li", "badge ticket");
  const clocks = make("li", "badge bad");
  clocks.id = "clocks";
  clocks.setAttribute("role", "status");
  byId("badges").append(...(about.ticket ? [badge] : []), clocks);
  const write = () => {
    if (about.ticket) {
      const { text, bad } = ticketWords(about.ticket, bothDays(new Date(), ahead()));
      if (badge.textContent !== text) badge.textContent = text;
      badge.classList.toggle("bad", bad);
    }
    const differ = differText(ahead());
    if (clocks.textContent !== differ) clocks.textContent = differ;
    clocks.hidden = differ === "";
  };
  write();
  setInterval(write, 2_000);
  return write;
}
