// The line over the map that shows an error, with a button to try again. A press on its words shows them whole.
import { byId } from "../lib/dom";

export interface ErrorBar {
  /** Shows a message; the button hides the line and runs `retry`. */
  show(message: string, retry: () => void): void;
  hide(): void;
}

export function makeErrorBar(): ErrorBar {
  const bar = byId("errorbar");
  const text = byId("errorbar-words");
  const whole = (on: boolean) => text.setAttribute("aria-expanded", String(on));
  let action: () => void = () => undefined;
  text.addEventListener("click", () => whole(text.getAttribute("aria-expanded") !== "true"));
  byId("errorbar-again").addEventListener("click", () => {
    bar.hidden = true;
    action();
  });
  return {
    show(message, retry) {
      action = retry;
      if (!bar.hidden && text.textContent === message) return;
      text.textContent = message;
      whole(false);
      bar.hidden = false;
    },
    hide() {
      bar.hidden = true;
    },
  };
}
