// Opens the page: the secret, the stream of events, the chosen job, then the parts.
import type OLMap from "ol/Map";
import { byId, make, setText } from "../../shared/lib/dom";
import { addSegmenter } from "../../shared/lib/segmenter";
import { say } from "../../shared/lib/words";
import { makeApi, Refused, takeSecret } from "./api";
import type { Desk, Job } from "./desk";
import { ask, openDialog } from "./dialog";
import { openEvents } from "./events";
import { mountHeader } from "./header";
import { extentOf, fitTo, makeMap } from "./map";
import { makePanel } from "./panel";
import { fail, tell } from "./tell";

declare global {
  interface Window {
    /** For tests: the map, and a promise of the first list of jobs. */
    groundsheet: { map: OLMap | null; ready: Promise<void> };
  }
}

/** The chosen job of this tab, so that it is chosen again after a reload. */
const chosen = "groundsheet job";

export async function startDesk(mount: (desk: Desk) => void): Promise<void> {
  addSegmenter(Intl);
  window.onerror = null; // the browser can run the page: guard.ts watches no longer
  const secret = takeSecret();
  if (secret === "") return refuse(say("desk.no_secret"));
  const api = makeApi(secret, () => refuse(say("desk.stale_link")));
  const hears: ((job: Job | null) => void)[] = [];
  let job: Job | null = null;
  let asked = 0;
  const set = (now: Job | null) => {
    job = now;
    for (const f of hears) f(job);
  };
  const read = async (id: string): Promise<void> => {
    const turn = ++asked;
    try {
      const now = await api.get<Job>(`/api/jobs/${id}`);
      if (turn === asked) set(now);
    } catch (e) {
      if (turn !== asked) return;
      if (e instanceof Refused && e.status === 404) set(null);
      fail(e);
    }
  };
  const events = openEvents(api, () => {
    away(false);
    if (job !== null) void read(job.id);
  }, () => away(true));
  const desk: Desk = {
    api, events, map: makeMap(), actions: byId("actions"), tools: byId("tools"), over: byId("over"), left: byId("jobs"),
    get job() {
      return job;
    },
    onJob(f) {
      hears.push(f);
      f(job);
    },
    async choose(id) {
      sessionStorage.setItem(chosen, id ?? "");
      if (id === null) {
        asked++;
        return set(null);
      }
      await read(id);
      if (job?.id === id && job.bounds !== null) desk.fit(extentOf(job.bounds, job.margin_m));
    },
    reload: async () => (job === null ? undefined : read(job.id)),
    panel: makePanel, dialog: openDialog, tell, fail, ask,
    fit: (extent) => fitTo(desk.map, extent),
  };
  events.on<{ id: string }>("job", ({ id }) => {
    if (job?.id === id) void read(id);
  });
  window.groundsheet = { map: desk.map, ready: Promise.resolve() };
  mountHeader(desk);
  mount(desk);
  const before = sessionStorage.getItem(chosen) ?? "";
  if (before !== "") window.groundsheet.ready = desk.choose(before);
  await window.groundsheet.ready;
}

/** Without the secret the page is empty and says how to open it. */
function refuse(why: string): void {
  if (document.body.dataset.state === "refused") return;
  document.body.dataset.state = "refused";
  document.body.replaceChildren(make("p", "refused", why));
}

/** Says that the server does not answer, until it does. */
function away(is: boolean): void {
  if (document.body.dataset.state === "refused") return;
  document.body.dataset.state = is ? "away" : "ready";
  const line = byId("away");
  setText(line, is ? say("desk.no_answer") : "");
  line.hidden = !is;
}
