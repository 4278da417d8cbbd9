// A message over the map that disappears by itself.
import { byId, make } from "../lib/dom";

/** How long a toast stays, in milliseconds: time to read two sentences and a position. */
const durationMs = 8_000;

export interface Toast {
  /** Shows sentences; `hidden` runs when they disappear. */
  show(sentences: string[], hidden: () => void): void;
  hide(): void;
}

export function makeToast(): Toast {
  const box = byId("toast");
  let timer: ReturnType<typeof setTimeout> | undefined;
  let after: () => void = () => undefined;
  const hide = () => {
    clearTimeout(timer);
    box.replaceChildren();
    after();
    after = () => undefined;
  };
  return {
    show(sentences, hidden) {
      hide();
      after = hidden;
      box.append(...sentences.map((s) => make("p", "", s)));
      timer = setTimeout(hide, durationMs);
    },
    hide,
  };
}
