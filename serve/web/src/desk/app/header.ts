// The header: which job is open, and the look of the page.
import { byId, make, makeButton, setText } from "../../shared/lib/dom";
import { lengthText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { makeThemePicker } from "../../shared/shell/themepicker";
import { problemText } from "./api";
import type { Desk, Job } from "./desk";
import { folderName, ticketText, withoutFolder } from "./text";

export function mountHeader(desk: Desk): void {
  const themes = makeThemePicker();
  themes.onChange(() => desk.map.getLayers().forEach((l) => l.changed()));
  const look = makeButton([say("lights.look")], () => desk.dialog(say("lights.look")).body.append(...themes.body()));
  look.className = "quiet";
  desk.actions.append(look);
  const guide = byId("guide");
  desk.onJob((job) => {
    const bad = job !== null && job.problem !== null;
    guide.hidden = job !== null && !bad;
    guide.classList.toggle("bad", bad);
    guide.replaceChildren(make("span", "", job === null ? say("desk.begin") : job.problem === null ? "" : `${say("desk.not_read")}\n${withoutFolder(problemText(job.problem), job.folder)}`));
    setText(byId("job-name"), job === null ? "groundsheet" : nameOf(job));
    setText(byId("job-line"), job === null ? say("desk.no_job") : jobLine(job));
    document.title = job === null ? "groundsheet" : `${nameOf(job)} · groundsheet`;
  });
}

const nameOf = (job: Job): string => job.name || folderName(job.folder);

function jobLine(job: Job): string {
  const words = [job.number];
  if (job.last_day !== "") words.push(ticketText(job.last_day, new Date()));
  const margin = job.margin_m > 0 ? say("desk.margin", { margin: lengthText(job.margin_m, job.units) }) : "";
  words.push([job.area, margin].filter((w) => w !== "").join(", "));
  return words.filter((w) => w !== "").join(" · ");
}
