// Work of the desk that is under way, and what of it failed: the foot of the left column.
import { make, makeButton, setChildren, setHidden, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk, JobRow } from "../app/desk";
import { makeKept } from "../app/kept";
import { type Task, type Tasks, taskText } from "../app/tasks";

/** The most tasks that are listed; the others are counted. */
const mostListed = 4;

interface Line {
  element: HTMLElement;
  /** Names the jobs, so that a line says of which it is. */
  name(jobs: JobRow[]): void;
}

export function mountLine(desk: Desk, tasks: Tasks): Line {
  const list = make("ul", "line");
  list.setAttribute("aria-label", say("desk.under_way"));
  const names = new Map<string, string>();
  const away = new Set<string>(); // failed ones that were read
  const steer = (t: Task, what: "pause" | "go" | "stop") => void desk.api.post(`/api/tasks/${t.id}/${what}`, {}).catch(desk.fail);
  const rows = makeKept<{ li: HTMLElement; words: HTMLElement }>();
  const draw = () => {
    const all = tasks.all().filter((t) => t.ended === null || t.state === "failed" && !away.has(t.id));
    all.sort((a, b) => rank(a) - rank(b) || Number(a.id) - Number(b.id));
    const shown = all.slice(0, mostListed).map((t) => {
      const row = rows.of([t.id, t.state, t.ending].join(), () => rowOf(t));
      row.words.replaceChildren(make("b", "", names.get(t.job) ?? ""), ` ${taskText(t)}`);
      return row.li;
    });
    rows.done();
    setHidden(list, shown.length === 0);
    more.hidden = all.length <= mostListed;
    setText(more, say("desk.more_wait", { n: all.length - mostListed }));
    setChildren(list, [...shown, more]);
  };
  const rowOf = (t: Task) => {
    const button = (text: string, press: () => void) => {
      const b = makeButton([text], press);
      b.setAttribute("aria-label", `${text}: ${names.get(t.job) ?? ""}`);
      b.className = "quiet";
      return b;
    };
    const words = make("span", "");
    const first = t.state === "paused" ? button(say("desk.go_on"), () => steer(t, "go")) : button(say("desk.pause"), () => steer(t, "pause"));
    const buttons = t.state === "failed" ? [button(say("page.close"), () => {
      away.add(t.id);
      draw();
    })] : t.ending ? [] : [...(t.kind === "serve" ? [] : [first]), button(say("desk.stop"), () => steer(t, "stop"))];
    return { li: make("li", t.state === "failed" ? "bad" : "", words, ...buttons), words };
  };
  const more = make("li", "");
  tasks.onChange(draw);
  list.hidden = true;
  return {
    element: list,
    name(jobs) {
      for (const j of jobs) names.set(j.id, j.name || j.folder);
      draw();
    },
  };
}

const rank = (t: Task): number => (t.state === "failed" ? 0 : t.state === "running" ? 1 : t.state === "paused" ? 2 : 3);
