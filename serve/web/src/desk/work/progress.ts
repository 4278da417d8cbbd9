// A task under way: how far it is, until when it waits and why, and the buttons that steer it.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { type Task, taskText } from "../app/tasks";

/** How far a task is; moving without a number where that is not known. */
export function progressBar(t: Task): HTMLElement {
  const bar = make("progress", "");
  bar.setAttribute("aria-label", kindText(t.kind));
  if (t.progress.total > 0) Object.assign(bar, { max: t.progress.total, value: Math.min(t.progress.done, t.progress.total) });
  else if (t.state === "paused" || t.state === "waiting") bar.value = 0;
  return bar;
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

/** A row for a task that has not ended. */
export function taskRow(desk: Desk, t: Task): HTMLElement {
  const steer = (what: "pause" | "go" | "stop", text: string) => {
    const b = makeButton([text], () => void desk.api.post(`/api/tasks/${t.id}/${what}`, {}).catch(desk.fail));
    b.className = "quiet";
    b.dataset.does = what;
    return b;
  };
  const buttons = t.ending ? [] : [t.state === "paused" ? steer("go", say("desk.go_on")) : steer("pause", say("desk.pause")), steer("stop", say("desk.stop"))];
  return make("li", "task", make("b", "", kindText(t.kind)), progressBar(t), make("span", "far", taskText(t)), make("span", "steer", ...buttons));
}
