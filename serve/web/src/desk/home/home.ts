// "Home from site": field books are dropped or chosen, looked at, and brought into the chosen job.
import { byId, make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk, Job } from "../app/desk";
import { keepView } from "../app/map";
import { chooseFiles, isBook, send, takeDrops } from "../records/drop";
import { makeHighlight, type Highlight } from "../work/highlight";
import "./home.css";

/** Latitude and longitude. */
type Place = [number, number];

/** What groundsheet collect --json says. */
interface Report {
  books: { file: string; state: "new" | "longer" | "same" | "shorter"; entries: number; photos: number; photos_pending: number; photos_missing: number; notes: string[] }[];
  marks: number;
  struck: number;
  changes: { what: "new" | "changed" | "struck" | "restored"; name: string; who: string; why?: string; place: Place | null }[];
  overlays: { file: string; features: number; state: "new" | "changed" | "same" | "gone" }[];
  doubts: { kind: string; place: Place | null; detail: string }[];
}

const ending = ".fieldbook";

/** How many doubts are shown before they are asked for. */
const first = 10;

export function mountHome(desk: Desk): void {
  const panel = desk.panel("home", say("home.title"));
  const choose = makeButton([say("home.choose")], () => void chooseFiles(ending).then(take).catch(desk.fail));
  choose.className = "quiet";
  choose.id = "bring-home";
  panel.aside.append(choose);
  panel.body.append(make("p", "dim", say("home.hint")));
  const highlight = makeHighlight(desk);
  function take(files: File[]): void {
    const books = files.filter(isBook);
    if (desk.job !== null && books.length > 0) void open(desk, desk.job, books, highlight).catch(desk.fail);
  }
  takeDrops(byId("panel-home"), take);
  takeDrops(byId("stage"), take);
  desk.onJob((job) => panel.show(job !== null));
}

/** Shows what books would bring, and brings it when the person says so. */
async function open(desk: Desk, job: Job, books: File[], highlight: Highlight): Promise<void> {
  const drops: string[] = [];
  for (const file of books) drops.push(await send(desk.api, { file, beside: [] }));
  const ask = (dry: boolean) => desk.api.post<Report>(`/api/jobs/${job.id}/collect`, { drops, dry_run: dry });
  const report = await ask(true);
  const dialog = desk.dialog(say("home.dialog", { job: job.name }));
  dialog.body.closest("dialog")?.classList.add("proposal"); // the map stays in sight
  const showBefore = keepView(desk.map);
  const nothing = isNothing(report);
  dialog.body.append(make("ul", "books", ...report.books.map(bookRow)), make("p", "lead", nothing ? say("home.nothing") : changesText(report)),
    ...struckRows(report), ...doubtRows(report, highlight));
  showChanges(report, highlight);
  if (!nothing) {
    const bring = makeButton([say("home.bring")], () => {
      bring.disabled = true;
      void ask(false).then(async (done) => {
        dialog.close();
        desk.tell(say("home.done", { n: done.changes.length }));
        await desk.reload();
      }).catch((e) => {
        bring.disabled = false;
        desk.fail(e);
      });
    });
    bring.className = "main";
    bring.id = "bring";
    dialog.foot.append(bring);
    bring.focus();
  }
  await dialog.closed;
  highlight.clear();
  showBefore();
}

const isNothing = (r: Report): boolean => r.books.every((b) => b.state === "same" || b.state === "shorter") && r.overlays.every((o) => o.state === "same");

function bookRow(b: Report["books"][number]): HTMLElement {
  const states = { new: say("home.book_new"), longer: say("home.book_longer"), same: say("home.book_same"), shorter: say("home.book_shorter") };
  const more = b.photos_pending + b.photos_missing;
  return make("li", "", make("b", "", b.file), make("small", "", say("home.book", { entries: b.entries, photos: b.photos, state: states[b.state] })),
    ...(more > 0 ? [make("small", "no", say("home.photos_missing", { n: more }))] : []), ...b.notes.map((n) => make("small", "", n)));
}

function changesText(r: Report): string {
  const n = (what: string) => r.changes.filter((c) => c.what === what).length;
  return say("home.changes", { new: n("new"), changed: n("changed") + n("restored"), struck: n("struck"), marks: r.marks });
}

/** Marks on the map where the changed marks lie. */
function showChanges(r: Report, highlight: Highlight): void {
  const places = r.changes.flatMap(({ place }) => (place === null ? [] : [place]));
  const features = places.map(([lat, lon]) => ({ type: "Feature", properties: {}, geometry: { type: "Point", coordinates: [lon, lat] } }));
  if (features.length > 0) highlight.places({ type: "FeatureCollection", features });
}

function struckRows(r: Report): HTMLElement[] {
  const rows = r.changes.filter((c) => c.what === "struck").slice(0, first);
  if (rows.length === 0) return [];
  return [make("ul", "struck", ...rows.map((c) => make("li", "", say("home.struck", { mark: c.name, who: c.who || say("collect.nobody"), why: c.why ?? "" }))))];
}

function doubtRows(r: Report, highlight: Highlight): HTMLElement[] {
  if (r.doubts.length === 0) return [];
  const row = (d: Report["doubts"][number]) => {
    if (d.place === null) return make("li", "", d.detail);
    const [lat, lon] = d.place;
    return make("li", "", makeButton([make("span", "", d.detail), make("small", "", say("work.show_place"))], () => highlight.box({ West: lon, South: lat, East: lon, North: lat })));
  };
  const list = make("ul", "doubts", ...r.doubts.slice(0, first).map(row));
  const rest = r.doubts.slice(first);
  if (rest.length > 0) {
    const more = makeButton([say("home.more", { n: rest.length })], () => more.parentElement?.replaceWith(...rest.map(row)));
    more.className = "quiet";
    list.append(make("li", "", more));
  }
  return [make("h3", "", say("home.doubts", { n: r.doubts.length })), list];
}
