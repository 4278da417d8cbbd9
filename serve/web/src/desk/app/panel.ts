// The panels of the right column: always in the same order, whoever makes them first. Above them an index
// of them stays in sight, with how each stands.
import { byId, make, makeButton, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Panel, PanelName } from "./desk";

const order: PanelName[] = ["takes", "source", "recorded", "home", "work", "keeping"];
const indexed: Record<PanelName, string> = {
  takes: say("desk.index_takes"), source: say("desk.index_source"), recorded: say("desk.index_recorded"), home: say("desk.index_home"), work: say("desk.index_work"), keeping: say("desk.index_keeping"),
};

export function makePanel(name: PanelName, title: string): Panel {
  const column = byId("panels");
  const old = column.querySelector<HTMLElement>(`#panel-${name}`);
  if (old !== null) return panelOf(old);
  const head = make("h2", "", title);
  head.id = `panel-${name}-title`;
  const box = make("section", "panel", make("div", "head", head, make("div", "aside")), make("div", "body"));
  box.id = `panel-${name}`;
  box.setAttribute("aria-labelledby", head.id);
  box.dataset.place = String(order.indexOf(name));
  const after = [...column.children].find((c) => Number((c as HTMLElement).dataset.place) > order.indexOf(name));
  column.insertBefore(box, after ?? null);
  const entry = makeButton([make("b", "", indexed[name]), make("small", "")], () => {
    column.scrollTop = box.offsetTop - column.offsetTop;
  });
  entry.id = `index-${name}`;
  entry.dataset.place = String(order.indexOf(name));
  const index = byId("index");
  index.insertBefore(entry, [...index.children].find((c) => Number((c as HTMLElement).dataset.place) > order.indexOf(name)) ?? null);
  return panelOf(box);
}

function panelOf(box: HTMLElement): Panel {
  const entry = byId(`index-${box.id.slice("panel-".length)}`);
  const word = entry.querySelector("small") as HTMLElement;
  return {
    body: box.querySelector(".body") as HTMLElement, aside: box.querySelector(".aside") as HTMLElement,
    show(on) {
      box.hidden = entry.hidden = !on;
    },
    says(text, tone = "") {
      setText(word, text);
      word.className = tone;
    },
  };
}
