// The panels of the right column: always in the same order, whoever makes them first.
import { byId, make } from "../../shared/lib/dom";
import type { Panel, PanelName } from "./desk";

const order: PanelName[] = ["takes", "source", "recorded", "home", "work", "keeping"];

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
  return panelOf(box);
}

function panelOf(box: HTMLElement): Panel {
  return {
    body: box.querySelector(".body") as HTMLElement, aside: box.querySelector(".aside") as HTMLElement,
    show(on) {
      box.hidden = !on;
    },
  };
}
