// What a crew records on site, and all that others have recorded. Loaded after the first picture.
import "./texts"; // first: what follows says some of them
import "../main"; // runs already; named here so that all of the page's code is one file, which lists little for this one
import type { Utility } from "../../shared/lib/api";
import { byId, make, makeButton, setHidden, setText } from "../../shared/lib/dom";
import { afterPress } from "../../shared/lib/press";
import { request, UserError } from "../../shared/lib/http";
import { dateText } from "../../shared/lib/dates";
import { getStored, setStored } from "../../shared/lib/storage";
import { say } from "../../shared/lib/words";
import { boundedText } from "../../shared/records/record";
import { pictureSample } from "../../shared/records/swatches";
import type { Page } from "../../shared/shell/sheet";
import type { Session } from "../app/parts";
import { askWhy, askWriter } from "./ask";
import { makeBook, type BookInfo } from "./book";
import { tagOf } from "./choices";
import { makeDrawnMarks } from "./draw";
import { strikeEntry, type Entry } from "./entry";
import type { Mark } from "./fold";
import { listPage, troubleText, waitingMarks } from "./list";
import { markDetails, type MarkSheetParts, refreshMarkSheets } from "./marksheet";
import { errorOf, leadOf, shortText, titleOf, whereabouts, whereText } from "./marktext";
import { markPicture } from "./pictures";
import { makeQueue } from "./queue";
import { makeRecorder } from "./recorder";
import { type KeptPhoto, openStore } from "./store";
import { writerName, writerNow } from "./writer";

const unknownUtility: Utility = { utility: "", utility_name: "", letter: "?", colour: "#ff1493", casing: "#000000" };

export async function startMarking(session: Session): Promise<void> {
  const { about: { id: pack, units }, connection, events, sheet, status } = session;
  const url = `/packs/${encodeURIComponent(pack)}/book`;
  const roleKey = `role/${pack}`;
  const utilities = session.utilities;
  const utilityOf = (code: string) => utilities.find((u) => u.utility === code) ?? unknownUtility;
  const drawn = makeDrawnMarks(session, utilityOf);
  const store = await openStore();
  const book = makeBook(url, (ids) => {
    drawn.set(ids.map((id) => [id, book.mark(id) ?? null]));
    sheet.redrawPage(list);
    afterPress(refreshSheets);
  });
  const queue = await makeQueue({ pack, book: url, store, changed: () => changed() });
  const whereOf = (m: Mark) => whereabouts(m, book.atHome(m));
  const button = makeButton([make("b", "", say("marking.mark")), make("span", "")], () => recorder.open());
  button.id = "mark-open";
  button.hidden = true;
  const corner = make("div", "mark-corner", button);
  corner.hidden = true;
  const writes = () => !button.hidden;

  const keep = async (entries: Entry[], photos: KeptPhoto[]) => {
    try {
      await queue.add(entries, photos);
    } catch {
      throw new UserError(say("marking.full_here"));
    }
    askToPersist();
  };
  const writer = () => writerNow(connection.ahead());
  const strike = (mark: Mark, action: "strike" | "restore", why: string) => keep([strikeEntry(writer(), action, why, mark)], []);
  const tell = (e: unknown) => session.errorBar.show(e instanceof UserError ? e.message : String(e), () => undefined);
  const named = (then: () => void) => (writerName() === "" ? askWriter(sheet, then) : then());
  const sheetParts: MarkSheetParts = {
    units, utilityOf, markOf: book.mark, whereOf, writes,
    edit: (mark) => recorder.edit(book.mark(mark.id) ?? mark),
    strike: (mark) => askWhy(sheet, (why) => named(() => void strike(mark, "strike", why).catch(tell))),
    restore: (mark) => named(() => void strike(mark, "restore", "").catch(tell)),
    async photo(hash) {
      const own = await store.photo(hash);
      return own !== null ? URL.createObjectURL(new Blob([own.bytes], { type: own.type })) : /^[0-9a-f]{64}$/.test(hash) ? `${url}/photos/${hash}` : null;
    },
  };
  const openMark = (id: string) => sheet.open({ title: say("marking.one"), body: () => [markDetails(id, sheetParts)] });
  const list: Page = listPage({ pack, store, queue, marks: book.marks, markOf: book.mark, whereOf, shortOf: (m) => shortText(m, utilityOf(m.feature.properties.utility), units), open: openMark, redraw: () => sheet.redrawPage(list), writes });
  const recorder = makeRecorder({
    session, utilities, utilityOf, writer, keep, markOf: book.mark, marks: book.marks, strike: (mark, why) => strike(mark, "strike", why),
    noPhotos: store.kind === "database" ? "" : say("marking.no_photos"), openList: () => sheet.open(list),
  });

  const refreshSheets = () => refreshMarkSheets(sheetParts);
  const changed = () => {
    book.own(queue.own());
    const { photos } = queue.waiting();
    const n = waitingMarks(queue).length;
    setText(button.lastElementChild as HTMLElement, n === 0 ? "" : say("marking.badge", { n }));
    const here = n + photos.length === 0 ? "" : n > 0 ? say("marking.here_short", { n }) : say("marking.photos_short", { n: photos.length });
    const full = here === "" ? [] : [say("marking.here_full", { n, photos: photos.length, why: troubleText(queue) })];
    if (store.kind === "held") status.marksHere(say("marking.held_short"), [say("marking.store_held"), ...full].join(" "));
    else status.marksHere(here, full.join(" "));
    sheet.redrawPage(list);
    afterPress(refreshSheets);
  };
  status.addSection(() => [make("div", "jobs", makeButton([make("b", "", say("marking.list_title")), make("span", "", say("marking.list_words", { n: waitingMarks(queue).length, all: book.marks().length }))], () => sheet.open(list)))]);
  session.added.found = (pixel) => drawn.at(pixel).flatMap((feature) => {
    const mark = book.mark(String(feature.get("mark")));
    if (mark === undefined) return [];
    const u = utilityOf(mark.feature.properties.utility);
    const now = new Date();
    const { value, reference } = leadOf(mark, units, now);
    const { who, clock } = mark.leading.entry;
    const made = say("marking.made", { who: boundedText(who) || say("marking.nobody"), when: dateText(boundedText(clock), now) });
    const short = titleOf(mark);
    return [{
      feature, recorded: true, onSite: true, tag: () => tagOf(u), title: say("details.head", { utility: u.utility_name, kind: short }), short,
      words: [made, reference === "" ? value : say("lead.in_line", { value, reference }), whereText(whereOf(mark))], details: () => markDetails(mark.id, sheetParts),
      off: errorOf(mark.feature.properties.position) ?? 0,
    }];
  });
  const sampleOf = (here: boolean, over = false) => pictureSample([markPicture(utilityOf("water"), "reading", here, over)]);
  session.added.legend = () => [
    { sample: sampleOf(false), words: say("marking.legend") },
    { sample: sampleOf(true), words: say("marking.legend_here") },
    { sample: sampleOf(false, true), words: say("marking.legend_over") },
  ];
  byId("floats").prepend(corner);

  const takeRole = (role: string) => {
    if (role !== getStored(roleKey)) setStored(roleKey, role);
    for (const e of [button, corner]) setHidden(e, role !== "mark");
  };
  const hello = async () => {
    const answer = await request(url, { cache: "no-store" }).catch(() => null);
    if (answer === null || answer.headers.get("Groundsheet-Seen")) return;
    takeRole(answer.ok ? ((await answer.json().catch(() => ({}))) as Partial<BookInfo>).role ?? "" : "");
    if (await book.pull()) queue.resend(book.has);
    queue.kick();
  };
  takeRole(getStored(roleKey));
  changed();
  void hello();
  events.on("book", (data) => {
    if ((data as { pack?: string } | null)?.pack === pack) void book.pull();
  });
  events.on("link", (up) => {
    if (up === true) void hello();
  });
  for (const name of ["online", "pageshow"]) window.addEventListener(name, queue.kick);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) void hello();
  });
}

let asked = false;

/** Asks the browser, once, not to remove this page's data when room is short; secure pages alone can. */
function askToPersist(): void {
  if (asked || !("storage" in navigator)) return;
  asked = true;
  void navigator.storage.persist?.().catch(() => false);
}
