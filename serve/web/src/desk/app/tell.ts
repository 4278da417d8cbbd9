// Sentences over the map: what was done, and what went wrong.
import { byId, make, makeButton } from "../../shared/lib/dom";
import { errorMessage } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";

/** How long a sentence stays, in milliseconds. */
const durationMs = 6000;

export function tell(text: string): void {
  const line = make("p", "", text);
  byId("told").append(line);
  setTimeout(() => line.remove(), durationMs);
}

/** Says what went wrong, until it is closed; the same thing is said once. */
export function fail(e: unknown): void {
  const words = errorMessage(e);
  const told = byId("told");
  if ([...told.querySelectorAll(".bad span")].some((s) => s.textContent === words)) return;
  const line = make("p", "bad", make("span", "", words), makeButton([say("page.close")], () => line.remove()));
  line.setAttribute("role", "alert");
  told.append(line);
}
