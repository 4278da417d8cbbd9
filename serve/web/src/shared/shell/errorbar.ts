// The bar over the map that shows an error, with a button to try again.
import { byId } from "../lib/dom";

export interface ErrorBar {
  /** Shows a message; the button hides the bar and runs `retry`. */
  show(message: string, retry: () => void): void;
  hide(): void;
}

export function makeErrorBar(): ErrorBar {
  const bar = byId("errorbar");
  const text = byId("errorbar-words");
  let action: () => void = () => undefined;
  byId("errorbar-again").addEventListener("click", () => {
    bar.hidden = true;
    action();
  });
  return {
    show(message, retry) {
      action = retry;
      if (!bar.hidden && text.textContent === message) return;
      text.textContent = message;
      bar.hidden = false;
    },
    hide() {
      bar.hidden = true;
    },
  };
}
