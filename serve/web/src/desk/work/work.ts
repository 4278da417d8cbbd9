// The work on the chosen job: what is under way, the verdict and its findings, paper, copies, serving.
import { make, makeButton, setChildren, setText } from "../../shared/lib/dom";
import { timeOfDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import { problemText } from "../app/api";
import { drawing, planned } from "../app/cell";
import type { Desk, Job } from "../app/desk";
import { durationText, sizeText } from "../app/text";
import { type Task, type Tasks, startTask } from "../app/tasks";
import { openBrief } from "./briefdialog";
import { copiedTexts, openCopy } from "./copydialog";
import { baseName, makeVerdicts, proofOf, type Verdict } from "./findings";
import { makeHighlight } from "./highlight";
import { makeTaskRows } from "./progress";
import { openServe, servingTask } from "./servedialog";
import "./work.css";

interface Refreshed {
  packs?: { changes: { changed: number; gone: number; new: number }; asked: number }[];
}

export function mountWork(desk: Desk, tasks: Tasks): void {
  const panel = desk.panel("work", say("work.title"));
  const highlight = makeHighlight(desk);
  const [list, proof, ends] = [make("ul", "tasks"), make("div", "verdicts"), make("div", "ends")];
  const verdicts = makeVerdicts(proof, highlight);
  ends.setAttribute("role", "status");
  const run = (f: (job: Job) => Promise<void>) => () => {
    if (desk.job !== null) void f(desk.job).catch(desk.fail);
  };
  const pack = makeButton([say("work.pack")], run((job) => startTask(desk, "pack", [job.id])));
  pack.className = "main";
  pack.id = "pack";
  const brief = makeButton([say("work.brief")], run((job) => openBrief(desk, job.id, job.packs.map((p) => baseName(p.file)))));
  const serve = makeButton([say("work.serve")], run((job) => openServe(desk, tasks, job.id)));
  const refresh = makeButton([say("work.refresh")], run((job) => startTask(desk, "refresh", [job.id])));
  const copy = makeButton([say("work.copy")], run((job) => openCopy(desk, tasks, job.id)));
  [brief.id, serve.id, refresh.id, copy.id] = ["brief", "serve", "refresh", "copy"];
  desk.actions.prepend(pack, brief, serve); // what changes its width stands first: nothing moves under a hand
  panel.body.append(list, ends, proof, make("div", "row", refresh, copy));

  /** The chosen job's packs are fit, against the job as it is. */
  let proved = false;
  /** What comes next stands out: serving, once the pack is fit and nothing is to be fetched. */
  const lead = () => {
    const ready = proved && planned.value?.fetch === 0 && drawing.value === null;
    pack.classList.toggle("main", !ready);
    serve.classList.toggle("main", ready);
  };
  // What packing takes now, of the job as its files have it: not of what is being drawn.
  planned.on((p) => {
    lead();
    const takes = p !== null && desk.job !== null && drawing.value === null && p.fetch > 0;
    setText(pack, takes ? say("work.pack_takes", { size: sizeText(p.bytes_estimate), time: durationText(p.seconds_estimate) }) : say("work.pack"));
  });

  let [shown, found, turn] = ["", "", 0]; // which job in which state, and what was found of it
  /** Asks for the verdict of the job as it is now; the server checks a pack again only when that is another. */
  const prove = async (job: Job) => {
    const mine = ++turn;
    const now = `${job.id} ${job.etag} ${JSON.stringify(job.packs)}`;
    if (now !== shown) {
      const other = !shown.startsWith(`${job.id} `);
      [shown, found, proved] = [now, "", false];
      panel.says(job.packs.length === 0 ? say("desk.never_packed") : "");
      lead();
      if (job.packs.length === 0) verdicts.says(say("work.not_packed"));
      else if (other) verdicts.says(say("work.is_checked"));
      else verdicts.checking();
    }
    if (job.packs.length === 0) return;
    const { packs } = await desk.api.get<{ packs: Verdict[] }>(`/api/jobs/${job.id}/findings`);
    if (turn !== mine || JSON.stringify(packs) === found) return; // asked again meanwhile, or nothing new
    found = JSON.stringify(packs);
    const proofs = packs.map(proofOf);
    proved = packs.length > 0 && proofs.every((p) => p === "fit");
    const warned = packs.reduce((n, p) => n + p.findings.filter((f) => f.severity === "warning").length, 0);
    panel.says(proofs.includes("faulty") ? say("desk.not_fit") : !proved ? say("desk.unproved") : warned > 0 ? say("work.fit_warned", { n: warned }) : say("desk.fit"), proved ? "yes" : "no");
    lead();
    verdicts.draw(packs);
  };
  const rows = makeTaskRows(desk);
  const draw = () => {
    const job = desk.job;
    const own = job === null ? [] : tasks.of(job.id);
    const under = own.filter((t) => t.ended === null && t.kind !== "serve");
    setChildren(list, rows(under));
    list.hidden = under.length === 0;
    const busy = under.some((t) => ["pack", "ready", "refresh"].includes(t.kind));
    const packed = (job?.packs.length ?? 0) > 0;
    pack.disabled = refresh.disabled = job === null || job.problem !== null || busy;
    brief.disabled = serve.disabled = copy.disabled = !packed;
    refresh.hidden = copy.hidden = !packed;
    serve.setAttribute("aria-pressed", String(job !== null && servingTask(tasks, job.id) !== undefined));
    ends.replaceChildren(...[["pack", "ready", "refresh"], ["copy"]].flatMap((kinds) => endOf(own.find((t) => kinds.includes(t.kind)))));
  };
  const endOf = (t: Task | undefined): Node[] => {
    if (t === undefined || t.ended === null || t.state === "stopped") return [];
    if (t.problem !== null) return [make("p", "no", problemText(t.problem))];
    if (t.kind === "copy") return copiedTexts(t).map((c) => make("p", "", c));
    if (t.kind !== "refresh") return [];
    const all = (t.progress.result as Refreshed | undefined)?.packs ?? [];
    const n = all.reduce((sum, p) => sum + p.changes.changed + p.changes.gone, 0);
    const words = make("p", "", say("work.refreshed", { time: timeOfDay(new Date(t.ended)), asked: all.reduce((sum, p) => sum + p.asked, 0), n }));
    if (n === 0) return [words];
    const where = makeButton([say("work.show_changes")], run(async (job) => {
      const changes = await desk.api.get<{ places: object } | null>(`/api/jobs/${job.id}/changes`);
      if (changes !== null) highlight.places(changes.places);
    }));
    where.className = "quiet";
    return [words, where];
  };
  tasks.onChange((t) => {
    if (t === null || t.job === desk.job?.id) draw();
    if (t !== null && t.job === desk.job?.id && t.ended !== null && t.kind !== "serve") void desk.reload();
  });
  let last = "";
  desk.onJob((job) => {
    if (job?.id !== last) highlight.clear();
    last = job?.id ?? "";
    panel.show(job !== null);
    draw();
    if (job !== null) void prove(job).catch(desk.fail);
    else [shown, turn] = ["", turn + 1];
  });
}
