// What is wrong with the open job, the worst first, and the line that says so.
import type { About, Verdict } from "../../shared/lib/api";
import { dateText, localDayOf } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import { coverageGaps } from "../../shared/records/coverage";
import { verdictText } from "../../shared/sheets/verdicttext";
import { clockWarning, daysByClock, spanText } from "../live/clock";
import type { Reach } from "../live/connection";
import { dueText, ticketEnded, ticketText } from "./ticket";

/** All that the line is made of. */
export interface Facts {
  about: About;
  /** the verdict on the open version, and on one that took its place on the laptop */
  own: Verdict;
  next: Verdict | null;
  reach: Reach;
  /** this device's clock minus the laptop's, in milliseconds; null while unknown */
  ahead: number | null;
  /** how old the position is that is shown, "" where that is not known; null for none that is old */
  positionOld: string | null;
  /** when the copy of this version on this device was complete; "" without one */
  copy: string;
  /** marks that are only on this device, in few words and whole; null or absent for none */
  marks?: { short: string; full: string } | null;
}

/** Something that is wrong: in a few words, and whole. */
export interface Problem {
  kind: "not-fit" | "next-not-fit" | "ticket" | "reach" | "marks" | "clocks" | "records" | "holes" | "position" | "unchecked";
  /** `bad` makes the map or the dig unsafe to go on with; a doubt is to be known */
  tone: "bad" | "doubt";
  short: string;
  full: string;
}

/** The line: its tone, what comes first, what is due at the right; below, what else is never cut, and small, as far as there is room, the ticket's day and the rest. */
interface Line {
  tone: "calm" | Problem["tone"];
  lead: string;
  due: string;
  also: string;
  day: string;
  rest: string;
}

/** What nobody may overlook: each is told in the line itself, and never only counted. */
const grave: Problem["kind"][] = ["not-fit", "next-not-fit", "ticket", "position", "records", "reach", "marks"];

/** Everything that is wrong, the worst first. */
export function problemsOf(f: Facts, now: Date): Problem[] {
  const all: Problem[] = [];
  const add = (kind: Problem["kind"], tone: Problem["tone"], short: string, full: string) => all.push({ kind, tone, short, full });
  if (f.own.state === "not fit") add("not-fit", "bad", say("status.not_fit"), verdictText(f.own));
  if (f.next?.state === "not fit") add("next-not-fit", "bad", say("status.next_not_fit"), say("verdict.next", { n: f.next.faults, first: f.next.first[0] ?? "" }));
  const days = daysByClock(now, f.ahead);
  const ended = f.about.ticket ? ticketEnded(f.about.ticket, days) : "";
  if (f.about.ticket && ended !== "") add("ticket", "bad", ended, ticketText(f.about.ticket, days));
  if (f.positionOld !== null) add("position", "doubt", f.positionOld === "" ? say("status.position_old") : say("status.position_age", { age: f.positionOld }), say("status.position_old_full"));
  const { unrecorded, empty } = coverageGaps(f.about);
  if (unrecorded.length > 0) {
    const full = unrecorded.map((utility) => say("notknown.no_record", { utility })).join(" ");
    add("records", "doubt", say("status.no_record", { utilities: unrecorded.join(", ") }), full);
  }
  if (empty.length > 0) {
    const full = empty.map((utility) => say("notknown.nothing_here", { utility })).join(" ");
    add("records", "doubt", say("status.nothing_here", { utilities: empty.join(", ") }), full);
  }
  const away = reachText(f.reach, f.copy, now);
  if (away) add("reach", "doubt", away.short, away.full);
  if (f.marks) add("marks", "doubt", f.marks.short, f.marks.full);
  const clocks = clockWarning(f.ahead);
  if (clocks !== "") add("clocks", "doubt", say("status.clocks", { span: spanText(Math.abs(f.ahead ?? 0)) }), clocks);
  if (f.about.holes > 0) add("holes", "doubt", say("job.missing", { n: f.about.holes }), say("layers.missing_tiles", { n: f.about.holes }));
  if (f.own.state === "unchecked") add("unchecked", "doubt", say("status.unchecked"), say("status.unchecked_full"));
  else if (f.next?.state === "unchecked") add("unchecked", "doubt", say("verdict.next_unchecked"), say("status.next_unchecked_full"));
  return all;
}

function reachText(reach: Reach, copy: string, now: Date): { short: string; full: string } | null {
  switch (reach.state) {
    case "near": return null;
    case "out": return copy ? { short: say("status.copy", { day: localDayOf(copy) }), full: say("reach.copy", { when: dateText(copy, now) }) } : { short: say("status.out"), full: say("reach.out", { when: dateText(reach.since, now) }) };
    case "exchanged": return { short: say("status.exchanged"), full: say("reach.exchanged") };
    case "not-served": return { short: say("status.not_served"), full: say("reach.not_served") };
    case "join": return { short: say("status.join"), full: say("reach.join_again") };
  }
}

/** The line that says the worst, all else that is grave, how much more there is, and what is always true of the job. */
export function lineOf(f: Facts, problems: Problem[], now: Date): Line {
  const { about } = f;
  const practice = about.invented ? say("status.practice") : ""; // never cut: else an invented record looks like one
  const joined = (...parts: string[]) => parts.filter((p) => p !== "").join(" · ");
  const due = about.ticket ? dueText(about.ticket, daysByClock(now, f.ahead)) : "";
  const [worst, ...more] = problems;
  if (worst === undefined) {
    const number = about.number === "" ? "" : say("job.head", { number: about.number });
    return { tone: "calm", lead: about.name, due, also: practice, day: "", rest: number };
  }
  const also = more.filter((p) => grave.includes(p.kind));
  const less = more.length - also.length;
  return {
    tone: worst.tone, lead: worst.short, due: less > 0 ? say("status.more", { n: less }) : "", also: joined(...also.map((p) => inSentence(p.short)), practice),
    day: problems.some((p) => p.kind === "ticket") ? "" : due, rest: about.name,
  };
}

/** Words within a sentence: a first word that is not in capitals loses its capital. */
const inSentence = (text: string): string => (/^[A-Z][a-z]/.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text);
