// The head of the page: which job, and what must be known of it at a glance.
import { byId, make } from "./dom";
import type { About } from "./types";
import { today } from "./dates";

/** Writes the job's name and its badges. */
export function showHeader(about: About): void {
  document.title = `${about.name} · groundsheet`;
  byId("job-name").textContent = about.name;
  byId("job-number").textContent = about.number === "" ? "" : `Job ${about.number}`;
  const badges = byId("badges");
  badges.replaceChildren();
  if (about.invented) badges.append(make("li", "badge practice", "Invented practice data"));
  if (about.expected_missing.length > 0) badges.append(make("li", "badge gap", `no record of: ${about.expected_missing.join(", ")}`));
  if (about.ticket) badges.append(ticketBadge(about.ticket, today(new Date())));
  if (about.holes > 0) badges.append(make("li", "badge bad", `${about.holes} ${about.holes === 1 ? "tile" : "tiles"} missing`));
}

function ticketBadge(ticket: { number: string; valid_until: string }, now: string): HTMLElement {
  const number = ticket.number === "" ? "number not stated" : ticket.number;
  const last = ticket.valid_until;
  if (last === "") return make("li", "badge ticket", `Ticket ${number} · last valid day not stated`);
  if (last < now) return make("li", "badge ticket bad", `Ticket ${number} · ENDED, last valid day was ${unbroken(last)}`);
  return make("li", "badge ticket", `Ticket ${number} · last valid day ${unbroken(last)}${last === now ? ", today" : ""}`);
}

/** A day that no line break tears apart. */
function unbroken(day: string): string {
  return day.replace(/-/g, "\u2011");
}
