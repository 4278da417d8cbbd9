// A short-lived line about an empty place on the map.
import { byId, make } from "../lib/dom";

/** How long it stays, in milliseconds: time to read two sentences and a position. */
const staysMs = 8_000;

export interface Toast {
  /** Shows sentences; `gone` runs when they go. */
  show(sentences: string[], gone: () => void): void;
  hide(): void;
}

export function makeToast(): Toast {
  const box = byId("spot");
  let timer: ReturnType<typeof setTimeout> | undefined;
  let after: () => void = () => undefined;
  const hide = () => {
    clearTimeout(timer);
    box.replaceChildren();
    after();
    after = () => undefined;
  };
  return {
    show(sentences, gone) {
      hide();
      after = gone;
      box.append(...sentences.map((s) => make("p", "", s)));
      timer = setTimeout(hide, staysMs);
    },
    hide,
  };
}
