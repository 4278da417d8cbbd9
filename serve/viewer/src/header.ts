// The head of the page: which job, and what must be known of it at a glance.
import { byId, make } from "./dom";
import type { About } from "./types";

/** Writes the job's name and its badges. */
export function showHeader(about: About): void {
  document.title = `${about.name} · groundsheet`;
  byId("job-name").textContent = about.name;
  byId("job-number").textContent = about.number === "" ? "" : `Job ${about.number}`;
  const badges = byId("badges");
  badges.replaceChildren();
  if (about.invented) badges.append(make("li", "badge practice", "Invented practice data"));
  if (about.expected_missing.length > 0) badges.append(make("li", "badge gap", `no record of: ${about.expected_missing.join(", ")}`));
  if (about.holes > 0) badges.append(make("li", "badge bad", `${about.holes} ${about.holes === 1 ? "tile" : "tiles"} missing`));
}
