// The status strip: what went wrong, and a way to try again.
import { byId } from "../lib/dom";

export interface ErrorBar {
  /** Shows a message; `again` runs, and the strip goes, when the button is pressed. */
  show(message: string, again: () => void): void;
  hide(): void;
}

export function makeErrorBar(): ErrorBar {
  const strip = byId("strip");
  const text = byId("strip-words");
  let action: () => void = () => undefined;
  byId("strip-again").addEventListener("click", () => {
    strip.hidden = true;
    action();
  });
  return {
    show(message, again) {
      action = again;
      if (!strip.hidden && text.textContent === message) return;
      text.textContent = message;
      strip.hidden = false;
    },
    hide() {
      strip.hidden = true;
    },
  };
}
