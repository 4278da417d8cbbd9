// The map page: lists the packs and opens one.
import "../shared/shell/base.css"; // first: the others build on it
import "../shared/shell/frame.css";
import type OLMap from "ol/Map";
import type { PackEntry } from "../shared/lib/api";
import { dateText, statedTime } from "../shared/lib/dates";
import { byId, make, makeButton } from "../shared/lib/dom";
import { errorMessage, getJSON } from "../shared/lib/http";
import { addSegmenter } from "../shared/lib/segmenter";
import { say } from "../shared/lib/words";
import type { MapView } from "../shared/map/mapview";
import { formatViewHash, lastView, parseViewHash } from "../shared/map/viewhash";
import { makeErrorBar } from "../shared/shell/errorbar";
import { followColor } from "../shared/shell/framecolor";
import { makeNotices } from "../shared/shell/notice";
import { makeSheet, type Page } from "../shared/shell/sheet";
import { makeThemePicker } from "../shared/shell/themepicker";
import { makeToast } from "../shared/shell/toast";
import type { PageParts, Session } from "./app/parts";
import { onlyJob } from "./app/pictures";
import { openPack } from "./app/session";
import { type Empty, showEmpty } from "./job/empty";
import { whatToDo } from "./job/statusline";
import { makeVerdicts, verdictBadge } from "./job/verdict";
import { makeConnection } from "./live/connection";
import { makeEvents } from "./live/events";
import { registerServiceWorker } from "./offline/register";

declare global {
  interface Window {
    /** For tests: the map, and a promise of its first complete drawing. */
    groundsheet: { map: OLMap | null; ready: Promise<void> };
  }
}

let mapView: MapView | null = null;
const events = makeEvents();
const parts: PageParts = {
  errorBar: makeErrorBar(), sheet: makeSheet({ closed: () => mapView?.select([]), moved: () => mapView?.look() }), toast: makeToast(), notices: makeNotices(),
  events, themePicker: makeThemePicker(), connection: makeConnection(events), verdicts: makeVerdicts(events),
};

async function start(): Promise<void> {
  const { packs } = await getJSON<{ packs: PackEntry[] }>("/packs.json", say("load.jobs"));
  parts.verdicts.listed(packs);
  if (packs.length === 0) return showEmpty({ title: say("empty.no_jobs"), why: say("empty.no_jobs_why"), button: say("empty.look"), press: () => void run() });
  const hash = parseViewHash(location.hash);
  const only = hash.pack === "" ? onlyJob(packs) : undefined;
  const entry = packs.find((p) => p.id === hash.pack) ?? only;
  if (entry === undefined) {
    if (hash.pack !== "") parts.errorBar.show(say("load.no_such_job", { job: hash.pack }), () => choose(packs));
    showEmpty({ title: say("empty.closed"), why: say("empty.closed_why", { n: packs.length }), button: say("empty.choose"), press: () => choose(packs) });
    choose(packs);
    return;
  }
  const session = await openPack(entry, packs, hash.at ?? lastView(entry.id), parts, packs.length < 2 ? null : () => choose(packs));
  mapView = session.mapView;
  window.groundsheet.map = mapView.map;
  void registerServiceWorker();
  void loadMarking(session);
}

/** Loads what records on site, a bundle of its own with its style; a page that cannot get it shows the map without it, and says so. */
async function loadMarking(session: Session): Promise<void> {
  const style = Object.assign(make("link", ""), { rel: "stylesheet", href: "/marking.css" });
  document.head.append(style);
  try {
    const { startMarking } = await import("./marking/marking");
    await startMarking(session);
  } catch {
    session.status.marksHere(say("load.no_marks_short"), say("load.no_marks"));
  }
}

function choose(packs: PackEntry[]): void {
  const page: Page = {
    title: say("job.which"),
    body: () => [make("ul", "jobs", ...packs.map((p) => {
      const badge = p.verdict === undefined ? null : verdictBadge(parts.verdicts.of(p.id));
      const content = [make("b", "", p.name || p.id), ...(badge ? [badge] : []), ...jobWords(p).map((w) => make("span", "", w))];
      return make("li", "", makeButton(content, () => {
        location.hash = formatViewHash({ pack: p.id, at: null });
        location.reload();
      }));
    }))],
  };
  parts.sheet.open(page);
  parts.verdicts.on(() => parts.sheet.redrawPage(page));
}

/** What distinguishes packs of the same job. */
function jobWords(p: PackEntry): string[] {
  const words: string[] = [];
  if (p.number !== undefined) words.push(p.number === "" ? say("job.no_number") : say("job.number", { number: p.number }));
  if (p.source !== undefined) words.push(p.source === "" ? say("screen.no_source") : say("job.source", { source: p.source }));
  if (p.deepest_zoom !== undefined) words.push(say("job.deepest", { zoom: p.deepest_zoom }));
  if (p.packed !== undefined) words.push(statedTime(p.packed) === "" ? say("job.no_packed") : say("job.packed", { when: dateText(p.packed, new Date()) }));
  return words;
}

function run(): Promise<void> {
  document.body.dataset.state = "loading";
  showEmpty(null);
  return start().then(
    () => { document.body.dataset.state = mapView === null ? "choosing" : "ready"; },
    (e: unknown) => {
      document.body.dataset.state = "failed";
      showEmpty(failed(errorMessage(e)));
    },
  );
}

// Not a reload, which would lose the page while the laptop is out of reach.
function failed(why: string): Empty {
  return { title: say("empty.failed"), why, steps: whatToDo(), button: say("page.try_again"), press: () => void run() };
}

addSegmenter(Intl);
window.onerror = null; // the browser can run the page: guard.ts watches no longer
followColor(byId("status"));
window.groundsheet = { map: null, ready: Promise.resolve() };
window.groundsheet.ready = run();
