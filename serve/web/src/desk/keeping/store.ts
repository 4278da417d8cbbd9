// The office store: what it holds by source, size and age, refreshing all open jobs, and pruning.
import { make, makeButton } from "../../shared/lib/dom";
import { localDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { sizeText } from "../app/text";
import { startTask, type Tasks } from "../app/tasks";
import { pruneForm } from "./prune";

interface HeldSource {
  source: string;
  known: boolean;
  tiles: number;
  bytes: number;
  oldest: string | null;
  newest: string | null;
  waits_until: string | null;
  flaw: string | null;
}

interface HeldJob {
  id: string;
  name: string;
  number: string;
  folder: string;
  open: boolean;
  closed: string | null;
  here: boolean;
  keep: boolean;
  keep_until: string | null;
  keep_reason: string | null;
  tiles_wanted: number;
  tiles_held: number;
}

interface Store {
  store: string;
  sources: HeldSource[];
  jobs: HeldJob[];
}

/** How many jobs are listed; the others are counted. */
const mostJobs = 200;

export async function openStore(desk: Desk, tasks: Tasks): Promise<void> {
  const dialog = desk.dialog(say("keeping.store"));
  dialog.body.closest("dialog")?.classList.add("store");
  const holds = make("div", "holds", make("p", "dim", say("keeping.is_read")));
  dialog.body.append(holds, make("h3", "", say("keeping.refresh_title")), refreshForm(desk), make("h3", "", say("keeping.prune_title")), pruneForm(desk, tasks, () => void read().catch(desk.fail)));
  const read = async () => {
    const s = await desk.api.get<Store>("/api/store");
    holds.replaceChildren(...(s.sources.length === 0 ? [make("p", "dim", say("keeping.empty"))] : [make("p", "dim", s.store), sourcesOf(s.sources), jobsOf(s.jobs)]));
  };
  await read();
}

const day = (time: string | null): string => (time === null ? "–" : localDay(new Date(time)));

function row(tag: "td" | "th", ...cells: (Node | string)[]): HTMLElement {
  return make("tr", "", ...cells.map((c) => make(tag, "", c)));
}

function sourcesOf(all: HeldSource[]): HTMLElement {
  const rows = all.map((s) => {
    const notes = [s.flaw ?? "", s.known ? "" : say("keeping.unknown_source"), s.waits_until === null ? "" : say("keeping.waits", { day: day(s.waits_until) })].filter((n) => n !== "");
    const name = make("span", "", s.source, ...notes.map((n) => make("small", "dim", n)));
    return row("td", name, String(s.tiles), sizeText(s.bytes), day(s.oldest), day(s.newest));
  });
  const head = row("th", say("keeping.source"), say("keeping.tiles"), say("keeping.size"), say("keeping.oldest"), say("keeping.newest"));
  return make("table", "", make("thead", "", head), make("tbody", "", ...rows));
}

function jobsOf(all: HeldJob[]): HTMLElement {
  const open = all.filter((j) => j.open).length;
  const list = make("ul", "jobs-held", ...all.slice(0, mostJobs).map((j) => {
    const state = [j.open ? say("keeping.open") : say("keeping.closed_on", { day: day(j.closed) })];
    if (j.keep_until !== null) state.push(j.keep ? say("keeping.kept", { day: j.keep_until, reason: j.keep_reason ?? "" }) : say("keeping.was_kept", { day: j.keep_until, reason: j.keep_reason ?? "" }));
    return make("li", "", make("b", "", j.name), ` ${state.join(", ")}; ${say("keeping.holds_of", { held: j.tiles_held, wanted: j.tiles_wanted })}`, make("small", "dim", j.folder));
  }));
  if (all.length > mostJobs) list.append(make("li", "dim", say("keeping.more_jobs", { n: all.length - mostJobs })));
  return make("details", "", make("summary", "", say("keeping.jobs", { open, closed: all.length - open })), list);
}

interface Nightly {
  at: string;
  jobs: number;
  notes: string[];
}

function refreshForm(desk: Desk): HTMLElement {
  const at = Object.assign(make("input", ""), { type: "time" });
  const words = make("div", "");
  words.setAttribute("role", "status");
  const show = (n: Nightly) => {
    at.value = n.at;
    off.hidden = n.at === "";
    words.replaceChildren(make("p", "dim", n.at === "" ? say("keeping.not_nightly", { n: n.jobs }) : say("keeping.nightly", { at: n.at, n: n.jobs })), ...n.notes.map((text) => make("p", "dim", text)));
  };
  const set = (hour: string) => void desk.api.post<Nightly>("/api/nightly", { at: hour }).then(show).catch(desk.fail);
  const all = async () => {
    const { jobs } = await desk.api.get<Store>("/api/store");
    const ids = [...new Set(jobs.filter((j) => j.open && j.here).map((j) => j.id))];
    await startTask(desk, "refresh", ids);
    desk.tell(say("keeping.refreshes", { n: ids.length }));
  };
  void desk.api.get<Nightly>("/api/nightly").then(show).catch(desk.fail);
  const now = makeButton([say("keeping.refresh_now")], () => void all().catch(desk.fail));
  const label = make("label", "kfield", say("keeping.nightly_at"), at);
  const save = makeButton([say("keeping.set")], () => set(at.value));
  const off = makeButton([say("keeping.off")], () => set(""));
  off.className = "quiet";
  off.hidden = true;
  return make("div", "form", words, make("div", "row", now, label, save, off));
}
