// The header: which job is open, and the look of the page.
import { byId, makeButton, setText } from "../../shared/lib/dom";
import { lengthText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { makeThemePicker } from "../../shared/shell/themepicker";
import type { Desk, Job } from "./desk";
import { ticketText } from "./text";

export function mountHeader(desk: Desk): void {
  const themes = makeThemePicker();
  themes.onChange(() => desk.map.getLayers().forEach((l) => l.changed()));
  const look = makeButton([say("lights.look")], () => desk.dialog(say("lights.look")).body.append(...themes.body()));
  look.className = "quiet";
  desk.actions.append(look);
  desk.onJob((job) => {
    setText(byId("job-name"), job === null ? "groundsheet" : job.name || job.folder);
    setText(byId("job-line"), job === null ? say("desk.no_job") : jobLine(job));
    document.title = job === null ? "groundsheet" : `${job.name || job.folder} · groundsheet`;
  });
}

function jobLine(job: Job): string {
  const words = [job.number];
  if (job.last_day !== "") words.push(ticketText(job.last_day, new Date()));
  const margin = job.margin_m > 0 ? say("desk.margin", { margin: lengthText(job.margin_m, job.units) }) : "";
  words.push([job.area, margin].filter((w) => w !== "").join(", "));
  return words.filter((w) => w !== "").join(" · ");
}
