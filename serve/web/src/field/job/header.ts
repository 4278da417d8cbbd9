// The header of the page: the job and its badges.
import type { About } from "../../shared/lib/api";
import { byId, make } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { coverageGaps } from "../../shared/records/coverage";

/** Shows the name of the job and its badges. */
export function showHeader(about: About): void {
  document.title = `${about.name} · groundsheet`;
  byId("job-name").textContent = about.name;
  byId("job-number").textContent = about.number === "" ? "" : say("job.head", { number: about.number });
  const badges = byId("badges");
  badges.replaceChildren();
  if (about.invented) badges.append(make("li", "badge practice", say("job.practice")));
  const { unrecorded, empty } = coverageGaps(about);
  if (unrecorded.length > 0) badges.append(make("li", "badge gap", say("notknown.badge", { utilities: unrecorded.join(", ") })));
  if (empty.length > 0) badges.append(make("li", "badge gap", say("notknown.badge_nothing", { utilities: empty.join(", ") })));
  if (about.holes > 0) badges.append(make("li", "badge bad", say("job.missing", { n: about.holes })));
}
