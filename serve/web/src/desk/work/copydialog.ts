// Copying packs to a memory stick or another folder. A copy is read back before it counts.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { problemText } from "../app/api";
import type { Desk } from "../app/desk";
import { pickFolder } from "../app/folderpicker";
import { type Task, type Tasks, taskText } from "../app/tasks";
import { sizeText } from "../app/text";
import { progressBar } from "./progress";

interface Drive {
  folder: string;
  free: number;
  size: number;
}

interface Copied {
  file: string;
  bytes: number;
  seal: string;
  replaced: boolean;
}

/** What came of copying, in one line a pack. */
export function copiedTexts(t: Task): string[] {
  const all = (t.progress.result as { copies?: Copied[] } | undefined)?.copies ?? [];
  return all.map((c) => say("work.copied", { file: c.file, size: sizeText(c.bytes), seal: c.seal || "–" }));
}

export async function openCopy(desk: Desk, tasks: Tasks, job: string): Promise<void> {
  const dialog = desk.dialog(say("work.copy_title"));
  const { drives } = await desk.api.get<{ drives: Drive[] }>("/api/drives");
  const state = make("div", "copying");
  state.setAttribute("role", "status");
  let task = "";
  const copy = async (to: string) => {
    task = (await desk.api.post<{ task: string }>(`/api/jobs/${job}/copy`, { to })).task;
    look();
  };
  const look = () => {
    const t = tasks.of(job).find((one) => one.id === task);
    if (t === undefined || !state.isConnected) return;
    if (t.problem !== null) state.replaceChildren(make("p", "no", problemText(t.problem)));
    else if (t.state === "done") state.replaceChildren(...copiedTexts(t).map((c) => make("p", "yes", c)));
    else state.replaceChildren(progressBar(t), make("p", "dim", taskText(t)));
  };
  const rows = drives.map((d) => {
    const free = d.size > 0 ? say("work.drive_free", { free: sizeText(d.free), size: sizeText(d.size) }) : "";
    return make("li", "", makeButton([make("b", "", d.folder), make("small", "", free)], () => void copy(d.folder).catch(desk.fail)));
  });
  const other = makeButton([say("work.other_folder")], () => {
    void pickFolder(desk, say("work.copy_title"), say("work.copy_here")).then((to) => (to === null ? undefined : copy(to))).catch(desk.fail);
  });
  dialog.body.append(make("p", "dim", rows.length > 0 ? say("work.choose_drive") : say("work.no_drive")), make("ul", "drives", ...rows), state);
  dialog.foot.append(other);
  tasks.onChange(look);
  (dialog.body.querySelector("button") ?? other).focus();
}
