// The bar of a tool that works by the cross: three lines of text, and buttons.
import { byId, make, makeButton, setText } from "../lib/dom";

/** A button of the bar. */
interface BarButton {
  id: string;
  text: string;
  press(): void;
  /** whether it is the one that takes what is under the cross */
  takes?: boolean;
}

/** What a bar says: the main line, more of it, and how sure it is. */
export interface BarText {
  main: string;
  more: string;
  limit: string;
}

interface CrossBar {
  box: HTMLElement;
  button(id: string): HTMLButtonElement;
  show(text: BarText): void;
  /** Has a screen reader read the bar; done after an action only. */
  announce(): void;
}

/** Adds a bar, hidden, to the page. */
export function makeCrossBar(id: string, title: string, buttons: BarButton[]): CrossBar {
  const [main, more, limit] = [make("b", ""), make("span", ""), make("small", "")];
  const announcement = make("p", "unseen");
  announcement.setAttribute("role", "status");
  const made = new Map(buttons.map((b) => [b.id, Object.assign(makeButton([b.text], b.press), { id: b.id, className: b.takes === true ? "take" : "" })]));
  const box = make("section", "crossbar", make("p", "", main, more, limit), announcement, make("div", "", ...made.values()));
  Object.assign(box, { id, hidden: true });
  box.setAttribute("aria-label", title);
  byId("tool").append(box);
  return {
    box,
    button: (name) => made.get(name) as HTMLButtonElement,
    show(text) {
      setText(main, text.main);
      setText(more, text.more);
      setText(limit, text.limit);
    },
    announce() {
      announcement.textContent = `${main.textContent} ${more.textContent}`.trim();
    },
  };
}
