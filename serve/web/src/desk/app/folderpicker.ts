// Choosing a folder of this computer. A browser tells no page where a folder is, so the server lists them.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "./desk";

interface Folder {
  folder: string;
  parent: string;
  folders: { name: string; folder: string; job: boolean }[];
  job: boolean;
}

/** Lets the person choose a folder; null when it was closed. `first` is where it begins, "" = the user's own folder. */
export async function pickFolder(desk: Desk, title: string, choose: string, first = ""): Promise<string | null> {
  const dialog = desk.dialog(title);
  const path = Object.assign(make("input", "path"), { type: "text", spellcheck: false, autocomplete: "off" });
  path.setAttribute("aria-label", say("desk.folder"));
  const list = make("ul", "folders");
  const wrong = make("p", "no");
  wrong.setAttribute("role", "alert");
  let picked: string | null = null;
  const go = async (folder: string) => {
    const was = path.value;
    try {
      const now = await desk.api.get<Folder>(`/api/folders?in=${encodeURIComponent(folder)}`);
      if (path.value === was) path.value = now.folder; // what was typed meanwhile stays
      wrong.textContent = "";
      const rows = now.folders.map((f) => step(f.job ? say("desk.folder_is_job", { name: f.name }) : f.name, f.folder));
      list.replaceChildren(...(now.parent === "" ? [] : [step(say("desk.folder_up"), now.parent)]), ...rows);
      return now;
    } catch (e) {
      wrong.textContent = e instanceof Error ? e.message : String(e);
      return null;
    }
  };
  const step = (name: string, folder: string) => make("li", "", makeButton([name], () => void go(folder).then(() => list.querySelector("button")?.focus())));
  path.addEventListener("keydown", (e) => {
    if (e.key !== "Enter") return;
    e.preventDefault();
    void go(path.value);
  });
  const take = makeButton([choose], () => void go(path.value).then((now) => {
    if (now === null) return;
    picked = now.folder;
    dialog.close();
  }));
  take.className = "main";
  dialog.body.append(path, wrong, list);
  dialog.foot.append(take);
  await go(first);
  path.focus();
  await dialog.closed;
  return picked;
}
