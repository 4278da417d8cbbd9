// A task under way: how far it is, until when it waits and why, and the buttons that steer it.
import { make, makeButton, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { makeKept } from "../app/kept";
import { type Task, taskText } from "../app/tasks";

/** How far a task is; moving without a number where that is not known. */
export function progressBar(t: Task): HTMLProgressElement {
  const bar = make("progress", "");
  bar.setAttribute("aria-label", kindText(t.kind));
  drawBar(bar, t);
  return bar;
}

function drawBar(bar: HTMLProgressElement, t: Task): void {
  if (t.progress.total > 0) Object.assign(bar, { max: t.progress.total, value: Math.min(t.progress.done, t.progress.total) });
  else if (t.state === "paused" || t.state === "waiting") bar.value = 0;
  else bar.removeAttribute("value");
}

function kindText(kind: string): string {
  switch (kind) {
    case "pack": return say("work.packing");
    case "ready": return say("work.making_ready");
    case "refresh": return say("work.refreshing");
    case "copy": return say("work.copying");
    case "prune": return say("work.pruning");
    default: return kind;
  }
}

/** Rows for tasks that have not ended. A task keeps its row while its buttons are the same, so that none is lost under a press. */
export function makeTaskRows(desk: Desk): (tasks: Task[]) => HTMLElement[] {
  const kept = makeKept<TaskRow>();
  return (tasks) => {
    const rows = tasks.map((t) => kept.of([t.id, t.state, t.ending].join(), () => makeRow(desk, t)).draw(t));
    kept.done();
    return rows;
  };
}

interface TaskRow {
  draw(t: Task): HTMLElement;
}

function makeRow(desk: Desk, task: Task): TaskRow {
  const steer = (what: "pause" | "go" | "stop", text: string) => {
    const b = makeButton([text], () => void desk.api.post(`/api/tasks/${task.id}/${what}`, {}).catch(desk.fail));
    b.className = "quiet";
    b.dataset.does = what;
    return b;
  };
  const buttons = task.ending ? [] : [task.state === "paused" ? steer("go", say("desk.go_on")) : steer("pause", say("desk.pause")), steer("stop", say("desk.stop"))];
  const [bar, far] = [progressBar(task), make("span", "far")];
  const li = make("li", "task", make("b", "", kindText(task.kind)), bar, far, make("span", "steer", ...buttons));
  return {
    draw(t) {
      drawBar(bar, t);
      setText(far, taskText(t));
      return li;
    },
  };
}
