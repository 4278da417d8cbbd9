// Work of the desk that is under way, and what of it failed: the foot of the left column.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { type Problem, problemText } from "../app/api";
import type { Desk, JobRow } from "../app/desk";
import { durationText } from "./text";

/** A task as the server tells it: GET /api/tasks, and the topic "task". */
export interface Task {
  id: string;
  kind: string;
  job: string;
  state: "waiting" | "running" | "paused" | "done" | "failed" | "stopped";
  ending: boolean;
  progress: { stage: string; done: number; total: number; text?: string; until?: string; result?: unknown };
  left_s: number;
  began: string | null;
  ended: string | null;
  problem: Problem | null;
}

/** The most tasks that are listed; the others are counted. */
const mostListed = 4;

export function mountLine(desk: Desk): HTMLElement {
  const list = make("ul", "line");
  list.setAttribute("aria-label", say("desk.under_way"));
  const tasks = new Map<string, Task>();
  const names = new Map<string, string>();
  const away = new Set<string>(); // failed ones that were read
  const steer = (t: Task, what: "pause" | "go" | "stop") => void desk.api.post(`/api/tasks/${t.id}/${what}`, {}).catch(desk.fail);
  const draw = () => {
    const all = [...tasks.values()].filter((t) => t.ended === null || t.state === "failed" && !away.has(t.id));
    all.sort((a, b) => rank(a) - rank(b) || Number(a.id) - Number(b.id));
    const rows = all.slice(0, mostListed).map((t) => make("li", t.state === "failed" ? "bad" : "", ...lineOf(t)));
    if (all.length > mostListed) rows.push(make("li", "", say("desk.more_wait", { n: all.length - mostListed })));
    list.hidden = rows.length === 0;
    list.replaceChildren(...rows);
  };
  const lineOf = (t: Task): Node[] => {
    const name = names.get(t.job) ?? "";
    const button = (text: string, press: () => void) => {
      const b = makeButton([text], press);
      b.setAttribute("aria-label", `${text}: ${name}`);
      b.className = "quiet";
      return b;
    };
    const words = make("span", "", make("b", "", name), ` ${taskText(t)}`);
    if (t.state === "failed") return [words, button(say("page.close"), () => { away.add(t.id); draw(); })];
    const buttons = t.ending ? [] : t.state === "paused" ? [button(say("desk.go_on"), () => steer(t, "go"))] : [button(say("desk.pause"), () => steer(t, "pause"))];
    return [words, ...buttons, ...(t.ending ? [] : [button(say("desk.stop"), () => steer(t, "stop"))])];
  };
  const read = async () => {
    const [now, { jobs }] = await Promise.all([desk.api.get<Task[]>("/api/tasks"), desk.api.get<{ jobs: JobRow[] }>("/api/jobs")]);
    jobs.forEach((j) => names.set(j.id, j.name || j.folder));
    tasks.clear();
    now.forEach((t) => tasks.set(t.id, t));
    draw();
  };
  desk.events.on<Task>("task", (t) => {
    tasks.set(t.id, t);
    if (names.has(t.job)) draw();
    else void read().catch(desk.fail);
  });
  desk.events.on("opened", () => void read().catch(desk.fail));
  list.hidden = true;
  return list;
}

const rank = (t: Task): number => (t.state === "failed" ? 0 : t.state === "running" ? 1 : t.state === "paused" ? 2 : 3);

/** How far a task is. */
export function taskText(t: Task): string {
  if (t.state === "failed") return t.problem === null ? say("desk.task_failed") : problemText(t.problem);
  if (t.ending) return say("desk.task_ending");
  if (t.state === "waiting") return say("desk.task_waiting");
  const { stage, done, total, text, until } = t.progress;
  if (until !== undefined && text !== undefined) return text;
  const far = total > 0 ? say("desk.task_far", { stage, done, total }) : stage;
  const left = t.left_s > 0 ? say("desk.task_left", { time: durationText(t.left_s) }) : "";
  return [t.state === "paused" ? say("desk.task_paused") : "", far, left].filter((w) => w !== "").join(", ");
}
