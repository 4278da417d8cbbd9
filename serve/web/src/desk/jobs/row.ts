// One job of the list, in words.
import { make } from "../../shared/lib/dom";
import { localDayOf } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import { problemText } from "../app/api";
import type { JobRow } from "../app/desk";
import { daysUntil, folderName, sizeText, ticketText, weekdayText, withoutFolder } from "../app/text";

/** What a source would be asked for to pack a job now. */
interface Ask {
  source: string;
  tiles: number;
  seconds: number;
  hours: string[];
  refused: string;
}

/** What the server finds out about a job: POST /api/jobs/facts. */
export interface Facts {
  state: "unreadable" | "never packed" | "changed" | "not proved" | "fit" | "not fit";
  why: string;
  area: string;
  /** west, south, east, north, in degrees; none when not known */
  bounds: number[];
  notified: number;
  missing: string[];
  records: number;
  bytes: number;
  estimate: boolean;
  due: string | null;
  asks: Ask[];
}

/** The state of a job in a word or two, and whether it is good. */
export function stateOf(row: JobRow, facts: Facts | undefined): { text: string; tone: "yes" | "no" | "" } {
  if (row.problem !== null || facts?.state === "unreadable") return { text: say("desk.unreadable"), tone: "no" };
  if (facts === undefined) return row.packs.length === 0 ? { text: say("desk.never_packed"), tone: "" } : { text: say("desk.unchecked"), tone: "" };
  switch (facts.state) {
    case "fit": return { text: say("desk.fit"), tone: "yes" };
    case "not fit": return { text: say("desk.not_fit"), tone: "no" };
    case "not proved": return { text: say("desk.unproved"), tone: "no" };
    case "changed": return { text: say("desk.changed"), tone: "no" };
    default: return { text: say("desk.never_packed"), tone: "" };
  }
}

/** Days before tiles become stale that this is told of. */
const soon = 7;

/** Since when tiles are no longer fresh, or until when they are, where that is near. */
export function dueText(facts: Facts, now: Date): string {
  if (facts.due === null || facts.state === "never packed" || daysUntil(localDayOf(facts.due), now) > soon) return "";
  const when = weekdayText(localDayOf(facts.due));
  return new Date(facts.due) <= now ? say("desk.stale_since", { when }) : say("desk.stale_from", { when });
}

export const asksOf = (facts: Facts): number => facts.asks.reduce((all, a) => all + a.tiles, 0);

/** What of the notified utilities is recorded. */
function recordsText(facts: Facts): string {
  if (facts.notified === 0) return say("desk.records", { n: facts.records });
  return say("desk.recorded_of", { n: facts.notified - facts.missing.length, of: facts.notified });
}

/** What a pack would ask its sources for, and what it weighs. */
function askText(facts: Facts, now: Date): string {
  const refused = facts.asks.find((a) => a.refused !== "");
  const size = facts.bytes === 0 ? "" : facts.estimate ? say("desk.about", { size: sizeText(facts.bytes) }) : sizeText(facts.bytes);
  const due = dueText(facts, now);
  const asks = refused !== undefined ? say("desk.may_not", { source: refused.source }) : due !== "" && asksOf(facts) === 0 ? "" : say("desk.to_ask", { n: asksOf(facts) });
  return [due, asks, size].filter((t) => t !== "").join(" · ");
}

/** The lines of a row below its name. */
export function linesOf(row: JobRow, facts: Facts | undefined, now: Date): [string, string, string] {
  const first = [ticketText(row.last_day, now), row.number].filter((t) => t !== "").join(" · ");
  if (facts === undefined) return [first, "", ""];
  return [first, `${facts.area} · ${recordsText(facts)}`, askText(facts, now)];
}

/** How a ticket's last day is to be seen: "now" is today or tomorrow. */
function hasteOf(row: JobRow, now: Date): string {
  if (row.last_day === "") return "";
  const days = daysUntil(row.last_day, now);
  return days < 0 ? "no" : days < 2 ? "now" : "";
}

/** Draws a row into its button. */
export function drawRow(button: HTMLElement, row: JobRow, facts: Facts | undefined, now: Date): void {
  const { text, tone } = stateOf(row, facts);
  const why = row.problem !== null ? problemText(row.problem) : facts?.state === "unreadable" ? facts.why : "";
  const lines = why === "" ? linesOf(row, facts, now).map((l, i) => make("small", i === 0 ? hasteOf(row, now) : "", l)) : [make("small", "why", withoutFolder(why, row.folder))];
  button.replaceChildren(make("b", "", row.name || folderName(row.folder)), ...lines, make("em", tone, text));
  button.title = [row.folder, facts?.why ?? "", facts !== undefined && facts.missing.length > 0 ? say("desk.no_record_of", { list: facts.missing.join(", ") }) : ""].filter((t) => t !== "").join("\n");
}
