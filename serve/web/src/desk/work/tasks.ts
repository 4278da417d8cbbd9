// The tasks of the desk, as they are now.
import type { Desk } from "../app/desk";
import type { Task } from "../jobs/line";

export interface Tasks {
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
    of: (job) => [...all.values()].filter((t) => t.job === job).sort((a, b) => Number(b.id) - Number(a.id)),
    onChange: (f) => hears.push(f),
  };
}

/** Starts a task of a kind for jobs. */
export async function startTask(desk: Desk, kind: string, jobs: string[]): Promise<void> {
  await desk.api.post("/api/tasks", { kind, jobs });
}
