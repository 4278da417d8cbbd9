// The tasks of the desk, as they are now.
import { say } from "../../shared/lib/words";
import { type Problem, problemText } from "./api";
import type { Desk } from "./desk";
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

export interface Tasks {
  all(): Task[];
  /** Those of a job, "" for those of none, the latest first. */
  of(job: string): Task[];
  /** Runs whenever a task changes. */
  onChange(f: (task: Task | null) => void): void;
}

export function followTasks(desk: Desk): Tasks {
  const all = new Map<string, Task>();
  const hears: ((task: Task | null) => void)[] = [];
  const read = async () => {
    const now = await desk.api.get<Task[]>("/api/tasks");
    all.clear();
    for (const t of now) all.set(t.id, t);
    for (const f of hears) f(null);
  };
  desk.events.on<Task>("task", (t) => {
    all.set(t.id, t);
    for (const f of hears) f(t);
  });
  desk.events.on("opened", () => void read().catch(desk.fail));
  return {
    all: () => [...all.values()],
    of: (job) => [...all.values()].filter((t) => t.job === job).sort((a, b) => Number(b.id) - Number(a.id)),
    onChange: (f) => hears.push(f),
  };
}

/** Starts a task of a kind for jobs. */
export async function startTask(desk: Desk, kind: string, jobs: string[]): Promise<void> {
  await desk.api.post("/api/tasks", { kind, jobs });
}

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
