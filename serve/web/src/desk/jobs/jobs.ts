// The jobs at the left: what ends first stands first.
import { make, makeButton, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk, JobRow } from "../app/desk";
import type { Tasks } from "../app/tasks";
import { drawGround } from "./ground";
import "./jobs.css";
import { mountLine } from "./line";
import { makeRowList } from "./list";
import { mountPins } from "./pins";
import { openPlaces, type Place } from "./places";
import { openReady } from "./ready";
import { drawRow, type Facts } from "./row";

interface List {
  jobs: JobRow[];
  places: Place[];
}

/** The pause after which the jobs in view are looked at, in milliseconds. */
const pauseMs = 120;
/** After so long the facts of what is in view are asked for again, in milliseconds. */
const holdMs = 10 * 60_000;

export function mountJobs(desk: Desk, tasks: Tasks): void {
  const line = mountLine(desk, tasks);
  const pins = mountPins(desk);
  const facts = new Map<string, Facts>();
  let list: List = { jobs: [], places: [] };
  let inView: JobRow[] = [];
  let timer: ReturnType<typeof setTimeout> | undefined;
  const learn = (id: string, f: Facts) => {
    facts.set(id, f);
    pins.learn(id, f);
    rows.redraw(id);
  };
  const ask = async () => {
    const jobs = inView.filter((r) => r.problem === null && !facts.has(r.id)).map((r) => r.id);
    if (jobs.length === 0) return;
    const known = await desk.api.post<{ facts: Record<string, Facts> }>("/api/jobs/facts", { jobs });
    for (const [id, f] of Object.entries(known.facts)) learn(id, f);
  };
  const askSoon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => void ask().catch(desk.fail), pauseMs);
  };
  const rows = makeRowList<JobRow>(say("desk.jobs"), {
    idOf: (r) => r.id, press: (r) => void desk.choose(r.id),
    draw(button, r) {
      drawRow(button, r, facts.get(r.id), new Date());
      if (desk.job?.id === r.id) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
    },
    seen(now) {
      inView = now;
      askSoon();
    },
  });
  const search = Object.assign(make("input", ""), { type: "search", placeholder: say("desk.find"), autocomplete: "off", spellcheck: false });
  search.setAttribute("aria-label", say("desk.find"));
  const count = make("span", "count");
  const empty = make("p", "empty");
  const foot = make("div", "foot", makeButton([say("desk.ready")], () => openReady(desk, list.jobs, facts)), makeButton([say("desk.places")], () => openPlaces(desk, list.places)));
  const found = () => {
    const words = search.value.toLowerCase().split(/\s+/).filter((w) => w !== "");
    return list.jobs.filter((r) => words.every((w) => `${r.name} ${r.number} ${r.last_day} ${r.folder}`.toLowerCase().includes(w)));
  };
  const draw = () => {
    const now = found();
    rows.set(now);
    setText(count, now.length === list.jobs.length ? String(now.length) : say("desk.count_of", { n: now.length, of: list.jobs.length }));
    empty.hidden = now.length > 0;
    setText(empty, list.jobs.length > 0 ? say("desk.none_found") : list.places.length === 0 ? say("desk.no_places") : say("desk.no_jobs"));
    search.hidden = list.jobs.length < 2;
  };
  search.addEventListener("input", draw);
  const read = async () => {
    list = await desk.api.get<List>("/api/jobs");
    line.name(list.jobs);
    pins.jobs(list.jobs);
    draw();
  };
  const again = () => void read().catch(desk.fail);
  const one = (row: JobRow) => {
    facts.delete(row.id);
    list.jobs = list.jobs.map((r) => (r.id === row.id ? row : r));
    pins.jobs(list.jobs);
    draw();
    askSoon();
  };
  desk.left.append(make("div", "head", make("h2", "", say("desk.first")), count), search, empty, rows.element, line.element, foot);
  desk.events.on("jobs", again);
  desk.events.on("opened", again);
  desk.events.on<{ row?: JobRow }>("job", (e) => (e.row === undefined ? again() : one(e.row)));
  desk.events.on<{ id: string; facts: Facts }>("facts", (e) => learn(e.id, e.facts));
  desk.onJob((job) => {
    rows.redrawAll();
    if (job !== null) rows.reveal(job.id);
  });
  setInterval(() => {
    facts.clear();
    askSoon();
  }, holdMs);
  drawGround(desk);
}
