// "What is recorded": the records of the chosen job, what is missing, and adding a file.
import { byId, make, makeButton, setChildren } from "../../shared/lib/dom";
import { dateText } from "../../shared/lib/dates";
import { lengthText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { notRecorded } from "../../shared/records/coverage";
import { setStateSymbols } from "../../shared/records/statesymbols";
import { coloursOf, levelText, setLineSymbols } from "../../shared/records/symbology";
import { followFrames } from "../../shared/records/stage";
import { datumText } from "../../shared/sheets/importnotes";
import type { Desk, Job } from "../app/desk";
import { makeKept } from "../app/kept";
import { type Drawn, extentOfLayers, makeDrawn } from "./drawn";
import { chooseFiles, grouped, isBook, send, takeDrops } from "./drop";
import { openProposal } from "./proposal";
import type { OverlayRow, Records, Summary } from "./types";
import "./records.css";

export function mountRecords(desk: Desk): void {
  const panel = desk.panel("recorded", say("record.title"));
  const list = make("div", "records");
  panel.body.append(list);
  const add = makeButton([say("record.add")], () => void chooseFiles().then(take).catch(desk.fail));
  add.className = "quiet";
  panel.aside.append(add);
  followFrames(desk.map);
  const kept = makeKept<HTMLElement>();
  let rows: HTMLElement[] = []; // of the overlays, in their order
  let etag = ""; // of the job whose records are shown
  let drawn: Drawn | null = null;
  let shown = "";
  let units = "";
  const drawnFor = (job: Job): Drawn => {
    if (drawn === null || units !== job.units) {
      drawn?.show([]);
      [drawn, units] = [makeDrawn(desk.map, job.units), job.units];
    }
    return drawn;
  };

  /** Takes in files one after the other: each has its own dialog. */
  let before = Promise.resolve();
  function take(files: File[]): void {
    before = before.then(() => takeAll(files)).catch(desk.fail);
  }
  async function takeAll(files: File[]): Promise<void> {
    const job = desk.job;
    if (job === null || files.length === 0) return;
    for (const one of grouped(files.filter((f) => !isBook(f)))) {
      try {
        await openProposal(desk, job.id, await send(desk.api, one), drawnFor(job));
      } catch (e) {
        desk.fail(e);
      }
    }
    await desk.reload();
  }
  takeDrops(byId("panel-recorded"), take);
  takeDrops(byId("stage"), take); // while an area is drawn they are taken for it

  async function read(job: Job): Promise<void> {
    const now = await desk.api.get<Records>(`/api/jobs/${job.id}/overlays`);
    if (desk.job?.id !== job.id) return;
    setLineSymbols(now.styles);
    setStateSymbols(now.states);
    const lacking = now.missing.length;
    panel.says(lacking > 0 ? say("record.n_missing", { n: lacking }) : String(now.overlays.length), lacking > 0 ? "no" : "");
    etag = now.etag;
    rows = now.overlays.map((o) => kept.of(JSON.stringify([o, job.id, job.units]), () => rowOf(o, job)));
    const all = [...missingRows(now), ...rows];
    setChildren(list, all.length > 0 ? all : [make("p", "", say("record.none"))]);
    kept.done();
    drawnFor(job).show(now.overlays);
  }
  function missingRows(now: Records): HTMLElement[] {
    const said = notRecorded({ expected_missing: now.missing, expected_nothing_here: now.nothing_here, expected_only_near: now.only_near });
    const codes = [...now.missing.filter((u) => !now.nothing_here.includes(u)), ...now.missing.filter((u) => now.nothing_here.includes(u)), ...now.only_near];
    return said.map((words, i) => {
      const of = now.utilities.find((u) => u.code === codes[i]);
      return kept.of(JSON.stringify([words, of]), () => {
        const more = makeButton([say("record.add_one")], () => void chooseFiles().then(take).catch(desk.fail));
        more.className = "quiet";
        return make("div", "missing", badge(of?.letter ?? "?", of ?? { colour: "", casing: "" }), make("b", "no", words), more);
      });
    });
  }
  function rowOf(o: OverlayRow, job: Job): HTMLElement {
    const s = o.summary;
    const open = makeButton([make("b", "", s.title), make("small", "count", countText(s)), make("small", "", lineOf(s, job))], () => {
      const layer = drawnFor(job).layers()[rows.indexOf(row)];
      const box = layer === undefined ? null : extentOfLayers([layer]);
      if (box === null) desk.tell(say("record.no_place"));
      else desk.fit(box);
    });
    open.className = "open";
    const remove = makeButton([say("record.remove")], () => void removeOne(o, row, job).catch(desk.fail));
    remove.className = "quiet";
    const text = make("div", "text", open, ...leftOut(s), ...faults(o));
    if (o.one_in > 1) text.append(make("small", "", say("record.one_in", { n: o.one_in })));
    const row = make("div", "one", badge(s.letter, coloursOf({ ...s, url: "" })), text, make("div", "side", remove));
    row.dataset.file = o.file;
    return row;
  }
  async function removeOne(o: OverlayRow, row: HTMLElement, job: Job): Promise<void> {
    const at = { etag, n: rows.indexOf(row) + 1 }; // as they are when it is asked
    const yes = say("record.remove_yes");
    if (await desk.ask(say("record.remove_ask", { title: o.summary.title }), [say("record.keep"), yes]) !== yes) return;
    const { file } = await desk.api.post<{ file: string }>(`/api/jobs/${job.id}/overlays/${at.n}/remove`, { etag: at.etag });
    desk.tell(say("record.removed", { file }));
    await desk.reload();
  }

  desk.onJob((job) => {
    panel.show(job !== null);
    const now = job === null ? "" : `${job.id} ${job.etag}`;
    if (now === shown) return;
    const other = job === null || !shown.startsWith(job.id);
    shown = now;
    if (other) {
      panel.says("");
      drawn?.show([]);
      list.replaceChildren();
    }
    if (job !== null && job.problem === null) {
      void read(job).catch((e) => {
        shown = "";
        desk.fail(e);
      });
    }
  });
}

/** The rows that were left out, each with its line and reason, to be opened. */
function leftOut(s: Summary): HTMLElement[] {
  const rows = s.left_out ?? [];
  if (rows.length === 0) return [];
  const list = make("ul", "", ...rows.map((r) => make("li", "", say("leftout.row", { line: r.line, why: r.why }))));
  return [make("details", "no", make("summary", "", say("record.left_out", { n: rows.length })), list)];
}

/** What of a record could not be used. */
function faults(o: OverlayRow): HTMLElement[] {
  const all = o.findings.filter((f) => f.severity === "fault");
  if (all.length === 0) return [];
  const list = make("ul", "", ...all.map((f) => make("li", "", f.line === undefined ? f.detail : say("record.at_line", { line: f.line, what: f.detail }))));
  return [make("details", "no", make("summary", "", say("record.faults", { n: all.length })), list)];
}

/** The letter of a utility on its color. */
export function badge(letter: string, { colour, casing }: { colour: string; casing: string }): HTMLElement {
  const b = make("span", "badge", letter);
  b.style.background = colour;
  b.style.color = casing;
  return b;
}

/** "gas · 1998 (28 years ago) · level D · ± 5 ft · NAD83 · sheet 14". */
function lineOf(s: Summary, job: Job): string {
  return [
    s.utility, s.recorded === "" ? say("layers.not_recorded") : dateText(s.recorded, new Date()), levelText(s.quality_level),
    s.accuracy_m === null ? "" : say("record.accuracy", { within: lengthText(s.accuracy_m, job.units) }), datumText(s), s.record, s.owner,
  ].filter((w) => w !== "").join(" · ");
}

function countText(s: Summary): string {
  const others = s.features - s.readings - s.test_holes;
  return [
    others > 0 ? say("record.lines", { n: others }) : "", s.readings > 0 ? say("record.readings", { n: s.readings }) : "",
    s.test_holes > 0 ? say("record.test_holes", { n: s.test_holes }) : "", s.features === 0 ? say("record.nothing") : "",
  ].filter((w) => w !== "").join(", ");
}
