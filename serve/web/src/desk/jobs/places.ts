// The folders that are looked through for jobs.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { pickFolder } from "../app/folderpicker";

/** A folder that holds job folders. */
export interface Place {
  folder: string;
  /** in the user's list; else it was named at the start, for this time */
  listed: boolean;
  gone: boolean;
}

export function openPlaces(desk: Desk, places: Place[]): void {
  const dialog = desk.dialog(say("desk.places"));
  const list = make("ul", "folders");
  const set = async (folder: string, listed: boolean) => {
    try {
      draw((await desk.api.post<{ places: Place[] }>("/api/places", { folder, listed })).places);
    } catch (e) {
      desk.fail(e);
    }
  };
  const draw = (now: Place[]) => {
    list.replaceChildren(...now.map((p) => {
      const words = [p.gone ? say("desk.place_gone") : "", p.listed ? "" : say("desk.place_once")].filter((t) => t !== "").join(" · ");
      const change = p.listed ? makeButton([say("desk.place_forget")], () => void set(p.folder, false)) : makeButton([say("desk.place_keep")], () => void set(p.folder, true));
      change.setAttribute("aria-label", `${change.textContent}: ${p.folder}`);
      return make("li", "place", make("span", "record", make("b", "", p.folder), make("span", "", words)), change);
    }));
  };
  const add = makeButton([say("desk.place_add")], () => void pickFolder(desk, say("desk.place_add"), say("desk.place_choose")).then((folder) => folder === null ? undefined : set(folder, true)));
  add.className = "main";
  draw(places);
  dialog.body.append(make("p", "", say("desk.places_why")), list);
  dialog.foot.append(add);
}
