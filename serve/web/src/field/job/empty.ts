// In place of the map, when there is none: what is the matter, and what to do next.
import { byId, make, makeButton } from "../../shared/lib/dom";
import "./empty.css";

export interface Empty {
  title: string;
  /** why, and steps to take */
  why: string;
  steps?: HTMLElement;
  button: string;
  press(): void;
}

/** Shows what to do; null shows the map again. */
export function showEmpty(empty: Empty | null): void {
  const box = byId("empty");
  box.hidden = empty === null;
  if (empty === null) return;
  const title = make("h2", "", empty.title);
  title.id = "empty-title";
  box.replaceChildren(make("div", "", title, make("p", "", empty.why), ...(empty.steps ? [empty.steps] : []), makeButton([empty.button], empty.press)));
}
