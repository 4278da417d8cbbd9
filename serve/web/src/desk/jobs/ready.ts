// Making several jobs ready: each is planned, packed, checked and briefed, one after the other.
import { make, makeButton, makeInput, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk, JobRow } from "../app/desk";
import { daysUntil, durationText, ticketText } from "../app/text";
import { asksOf, dueText, type Facts, stateOf } from "./row";

/** Whether a job wants work: all but those that are fit, with nothing to ask. */
const wants = (row: JobRow, facts: Facts | undefined): boolean => row.problem === null && (facts === undefined || facts.state !== "unreadable" && (facts.state !== "fit" || asksOf(facts) > 0));

/** The most jobs that are offered at once: more would be no list that is read. */
const mostOffered = 200;

/** Jobs whose tickets end within so many days are chosen at first. */
const near = 1;

/** Whether a job's ticket has ended: it is made ready only when somebody chooses it. */
const ended = (row: JobRow, now: Date): boolean => row.last_day !== "" && daysUntil(row.last_day, now) < 0;

export function openReady(desk: Desk, jobs: JobRow[], facts: Map<string, Facts>): void {
  const dialog = desk.dialog(say("desk.ready"));
  const chosen = new Set<string>();
  const now = new Date();
  const list = make("ul", "ready");
  const sum = make("p", "sum");
  sum.setAttribute("role", "status");
  const go = makeButton([""], () => void start());
  go.className = "main";
  const offered = jobs.filter((r) => wants(r, facts.get(r.id))).slice(0, mostOffered);
  const rows = new Map<string, { row: JobRow; words: HTMLElement; box: HTMLInputElement }>();
  for (const row of offered) {
    const left = row.last_day === "" ? -1 : daysUntil(row.last_day, now);
    const urgent = left >= 0 && left <= near;
    if (urgent) chosen.add(row.id);
    const box = makeInput("checkbox", urgent, (on) => {
      if (on) chosen.add(row.id);
      else chosen.delete(row.id);
      draw();
    });
    const words = make("span", "");
    rows.set(row.id, { row, words, box });
    list.append(make("li", "", make("label", "", box, make("span", "record", make("b", "", row.name || row.folder), words))));
  }
  const draw = () => {
    for (const { row, words } of rows.values()) {
      const f = facts.get(row.id);
      const parts = [stateOf(row, f).text, ticketText(row.last_day, now), ...(f === undefined ? [] : [dueText(f, now), ...asksText(f)])];
      setText(words, parts.filter((t) => t !== "").join(" · "));
    }
    const [tiles, seconds] = [...chosen].reduce(([n, s], id) => {
      const f = facts.get(id);
      return f === undefined ? [n, s] : [n + asksOf(f), s + f.asks.reduce((all, a) => all + a.seconds, 0)];
    }, [0, 0]);
    setText(sum, chosen.size === 0 ? say("desk.ready_none") : tiles === 0 ? say("desk.ready_asks_none") : say("desk.ready_asks", { n: tiles, time: durationText(seconds) }));
    setText(go, say("desk.ready_go", { n: chosen.size }));
    go.disabled = chosen.size === 0;
  };
  const start = async () => {
    try {
      await desk.api.post("/api/tasks", { kind: "ready", jobs: offered.map((r) => r.id).filter((id) => chosen.has(id)) });
      dialog.close();
      desk.tell(say("desk.ready_begun", { n: chosen.size }));
    } catch (e) {
      desk.fail(e);
      dialog.close();
    }
  };
  const all = makeButton([say("desk.ready_all")], () => {
    const wanted = [...rows.values()].filter(({ row }) => !ended(row, now));
    const on = wanted.some(({ row }) => !chosen.has(row.id));
    for (const { row, box } of on ? wanted : rows.values()) {
      box.checked = on;
      if (on) chosen.add(row.id);
      else chosen.delete(row.id);
    }
    draw();
  });
  const off = desk.events.on<{ id: string; facts: Facts }>("facts", (e) => {
    facts.set(e.id, e.facts);
    if (rows.has(e.id)) draw();
  });
  void dialog.closed.then(off);
  void desk.api.post<{ facts: Record<string, Facts> }>("/api/jobs/facts", { jobs: offered.map((r) => r.id) }).then((known) => {
    for (const [id, f] of Object.entries(known.facts)) facts.set(id, f);
    draw();
  }, desk.fail);
  dialog.body.append(make("p", "", offered.length === 0 ? say("desk.ready_nothing") : say("desk.ready_why")), list);
  dialog.foot.append(sum, ...(offered.length > 1 ? [all] : []), go);
  draw();
}

/** What each source would be asked for, and when its terms allow it. */
function asksText(f: Facts): string[] {
  return f.asks.map((a) => {
    if (a.refused !== "") return a.refused;
    if (a.tiles === 0) return say("desk.nothing_to_ask", { source: a.source });
    const asks = say("desk.asks", { n: a.tiles, source: a.source, time: durationText(a.seconds) });
    return a.hours.length === 0 ? asks : `${asks}, ${say("desk.only_hours", { hours: a.hours.join(", ") })}`;
  });
}
