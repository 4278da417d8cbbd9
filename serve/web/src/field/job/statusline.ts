// The line at the top of the page, and the sheet about the job that it opens.
import type { About, PackEntry, Verdict } from "../../shared/lib/api";
import { byId, definitionList, make, makeButton, setHidden, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { recordsCaution } from "../../shared/sheets/layersheet";
import { unchecked, verdictText } from "../../shared/sheets/verdicttext";
import type { Notices } from "../../shared/shell/notice";
import type { Page, Sheet } from "../../shared/shell/sheet";
import { daysByClock } from "../live/clock";
import type { Connection, Reach } from "../live/connection";
import { type Facts, lineOf, type Problem, problemsOf } from "./status";
import { ticketText, untilNextDay } from "./ticket";
import { faultList, followVerdict, type Verdicts } from "./verdict";
import "./statusline.css";

interface Parts {
  sheet: Sheet;
  notices: Notices;
  connection: Connection;
  verdicts: Verdicts;
}

export interface StatusLine {
  /** the latest verdict on the open version of the pack */
  verdict: () => Verdict;
  /** Sets how old the position is that is shown, "" where that is not known; null for none that is old. */
  positionOld(age: string | null): void;
  /** Sets when the copy of this version on this device was complete; "" without one. */
  copy(finished: string): void;
  /** Sets what is only on this phone, in few words and whole; "" for nothing. */
  marksHere(short: string, full: string): void;
  /** Adds a part to the sheet about the job, above the cautions. */
  addSection(section: () => Node[]): void;
  /** Looks at the clocks again. */
  look(): void;
}

/** Shows what is wrong with the open job, or its name and what is due. */
export function makeStatusLine(entry: PackEntry, about: About, { sheet, notices, connection, verdicts }: Parts): StatusLine {
  const facts: Facts = { about, own: unchecked, next: null, reach: { state: "near" }, ahead: null, positionOld: null, copy: "", marks: null };
  const sections: (() => Node[])[] = [];
  const page: Page = { title: say("page.about_job"), body: () => aboutJob(facts, problemsOf(facts, new Date()), sections) };
  const button = byId<HTMLButtonElement>("status");
  let shown = "";
  let timer: ReturnType<typeof setTimeout> | undefined;
  const look = () => {
    clearTimeout(timer);
    if (document.hidden) return; // nobody looks; made good when somebody does
    facts.ahead = connection.ahead();
    const now = new Date();
    timer = setTimeout(look, untilNextDay(now, facts.ahead));
    const problems = problemsOf(facts, now);
    const line = lineOf(facts, problems, now);
    const key = JSON.stringify([line, problems]);
    if (key === shown) return;
    shown = key;
    button.dataset.tone = line.tone;
    setText(byId("status-lead"), line.lead);
    setText(byId("status-due"), line.due);
    setText(byId("status-also"), line.also);
    const dotted = (before: string, text: string) => (before === "" || text === "" ? text : ` · ${text}`);
    setText(byId("status-day"), dotted(line.also, line.day));
    setText(byId("status-job"), dotted(line.also + line.day, line.rest).trimStart());
    setHidden(byId("status-rest"), line.also + line.day + line.rest === "");
    setText(byId("status-aloud"), problems.filter((p) => p.tone === "bad").map((p) => p.full).join(" "));
    sheet.redrawPage(page);
  };
  document.title = `${about.name} · groundsheet`;
  setText(byId("page-title"), about.name);
  button.disabled = false;
  button.onclick = () => sheet.toggle(page, button);
  const verdict = followVerdict(entry, verdicts, (own, next) => {
    Object.assign(facts, { own, next });
    look();
  });
  connection.onReach((reach) => {
    facts.reach = reach;
    const press = reachPress(reach);
    notices.set("pack", press ? { text: press.title, short: press.title, press: press.press, stays: true } : null);
    look();
  });
  look();
  document.addEventListener("visibilitychange", look);
  return {
    verdict, look,
    positionOld(age) {
      if (facts.positionOld === age) return;
      facts.positionOld = age;
      look();
    },
    copy(finished) {
      if (facts.copy === finished) return;
      facts.copy = finished;
      look();
    },
    marksHere(short, full) {
      if (facts.marks?.short === short && facts.marks.full === full) return;
      facts.marks = short === "" ? null : { short, full };
      look();
    },
    addSection: (section) => void sections.push(section),
  };
}

/** What can be done about the laptop's answer; null where nothing can. */
function reachPress(reach: Reach): { title: string; press(): void } | null {
  const press = () => location.reload();
  switch (reach.state) {
    case "exchanged": return { title: say("reach.show_new"), press };
    case "not-served": return { title: say("reach.refresh"), press };
    case "join": return { title: say("reach.join"), press };
    default: return null;
  }
}

function aboutJob(facts: Facts, problems: Problem[], sections: (() => Node[])[]): Node[] {
  const { about, own, next, reach } = facts;
  const press = reachPress(reach);
  const what = problems.flatMap((p): Node[] => [
    make("p", p.tone === "bad" ? "fixed bad" : "fixed", p.full),
    ...(p.kind === "not-fit" ? faultList(own) : p.kind === "next-not-fit" ? faultList(next) : []),
    ...(p.kind === "reach" && reach.state === "out" ? [whatToDo()] : []),
    ...(p.kind === "reach" && press ? [Object.assign(makeButton([press.title], press.press), { className: "wide" })] : []),
  ]);
  const rows: [string, string][] = [[say("status.job_row"), about.name]];
  if (about.number !== "") rows.push([say("status.number_row"), about.number]);
  if (about.invented) rows.push([say("status.data_row"), say("job.practice")]);
  if (about.ticket) rows.push([say("status.ticket_row"), ticketText(about.ticket, daysByClock(new Date(), facts.ahead))]);
  rows.push([say("layers.check"), verdictText(own)]);
  return [...what, definitionList(rows), ...sections.flatMap((s) => s()), make("h3", "", say("page.cautions")), ...cautions(about)];
}

/** What to look at while the laptop is out of reach. */
export function whatToDo(): HTMLElement {
  return make("ol", "cautions", ...[say("empty.wifi"), say("empty.awake"), say("empty.address", { address: location.origin })].map((w) => make("li", "", w)));
}

/** All cautions of a job. */
export function cautions(about: About): Node[] {
  const all = about.cautions.length > 0 ? about.cautions : [recordsCaution];
  return [make("ol", "cautions", ...all.map((c) => make("li", "", c)))];
}
