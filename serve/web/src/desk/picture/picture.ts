// The picture under the drawing: whose it is, what it is like, or why there is none.
import { byId, definitionList, make, makeButton, setText } from "../../shared/lib/dom";
import { dateText } from "../../shared/lib/dates";
import { pixelText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { problemText } from "../app/api";
import { arrived, chosenSource } from "../app/cell";
import type { Desk } from "../app/desk";
import { addSource } from "./addsource";
import { mountPhone } from "./phone";
import { readSources, type SourceRow } from "./sources";
import { makePicture, type Picture } from "./tiles";
import "./picture.css";

/** No tile has come for so long, in milliseconds. */
const settled = 1500;

export function mountPicture(desk: Desk): void {
  const panel = desk.panel("source", say("under.title"));
  const pick = make("select", "");
  pick.setAttribute("aria-label", say("under.source"));
  const use = makeButton([say("under.use")], () => void useForJob().catch(desk.fail));
  const about = make("div", "about");
  const more = makeButton([say("under.add")], () => void addSource(desk).then(added).catch(desk.fail));
  panel.aside.append(more);
  panel.body.append(make("div", "row", pick, use), about);
  const credit = make("p", "");
  credit.id = "credit";
  byId("stage").append(credit);

  let rows: SourceRow[] = [];
  let shown: Picture | null = null;
  let key = "";
  const phone = mountPhone(desk);
  const chosen = () => rows.find((r) => r.name === chosenSource.value);
  const ofJob = () => desk.job?.bases[0]?.source ?? "";

  async function read(): Promise<void> {
    rows = (await readSources(desk.api, desk.job?.id ?? "")).sources;
    pick.replaceChildren(...[{ name: "", text: say("under.none") }, ...rows.map((r) => ({ name: r.name, text: r.name }))].map(({ name, text }) => {
      const o = make("option", "", text);
      o.value = name;
      return o;
    }));
    draw();
  }

  /** Shows the chosen source; the same one is left as it is. */
  function draw(): void {
    const row = chosen();
    pick.value = row?.name ?? "";
    panel.says(row?.name ?? "", row === undefined || row.refused === null ? "" : "no");
    use.hidden = desk.job === null || row === undefined || row.name === ofJob();
    setText(credit, row === undefined || row.refused !== null ? "" : row.attribution || say("under.no_credit", { source: row.name }));
    const now = row === undefined || row.refused !== null ? "" : `${row.name} ${row.stamp} ${row.opens ?? ""} ${desk.job?.id ?? ""}`;
    if (now !== key) {
      key = now;
      if (shown !== null) {
        desk.map.removeLayer(shown.layer);
        shown.stop();
        shown = null;
      }
      if (row !== undefined && now !== "") {
        shown = makePicture(desk.map, desk.api, row, desk.job?.id ?? "", 1, row.zooms, tell);
        desk.map.addLayer(shown.layer);
      }
      phone.show(now === "" ? undefined : row);
    }
    tell();
  }

  let later: ReturnType<typeof setTimeout> | undefined;
  function tell(): void {
    const row = chosen();
    const newest = shown?.said().fetched ?? "";
    clearTimeout(later);
    if (newest > arrived.value) later = setTimeout(() => arrived.set(newest), settled);
    if (row === undefined) {
      about.replaceChildren(make("p", "", say("under.choose")));
      return;
    }
    const lines: Node[] = [];
    if (row.refused !== null) lines.push(make("p", "why", problemText(row.refused)));
    const said = shown?.said();
    if (said !== undefined && said.why !== "") lines.push(make("p", "why", said.why));
    lines.push(definitionList([
      [say("under.captured"), row.captured || say("under.unknown")],
      [say("under.native"), row.ground_resolution_m > 0 ? pixelText(row.ground_resolution_m, desk.job?.units ?? "us") : say("under.unknown")],
      [say("under.zooms"), `${row.zooms[0]}–${row.zooms[1]}`],
      [say("under.terms"), row.terms],
      ...(said !== undefined && said.fetched !== "" ? [[say("under.fetched"), dateText(said.fetched.slice(0, 10), new Date())] as [string, string]] : []),
    ]));
    if (said !== undefined && said.stale > 0) lines.push(make("p", "odd", say("under.stale", { n: said.stale })));
    for (const odd of said?.odd ?? []) lines.push(make("p", "odd", odd));
    about.replaceChildren(...lines);
  }

  async function useForJob(): Promise<void> {
    const job = desk.job;
    if (job === null) return;
    await desk.api.post(`/api/jobs/${job.id}/set`, { etag: job.etag, changes: [{ key: "base[0].source", value: chosenSource.value }] });
    await desk.reload();
  }

  async function added(name: string | null): Promise<void> {
    if (name === null) return;
    await read();
    chosenSource.set(name);
  }

  pick.addEventListener("change", () => chosenSource.set(pick.value));
  chosenSource.on(draw);
  let before = "";
  desk.onJob((job) => {
    const now = `${job?.id ?? ""} ${job?.etag ?? ""}`;
    if (now === before && before !== "") return;
    const other = before.split(" ")[0] !== (job?.id ?? "") || !use.hidden;
    before = now;
    if (job !== null && (other || chosenSource.value === "")) chosenSource.set(ofJob());
    void read().catch(desk.fail);
  });
  desk.events.on("sources", () => void read().catch(desk.fail));
}
