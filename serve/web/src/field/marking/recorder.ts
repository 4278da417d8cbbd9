// Recording: the pad, and what its buttons do. One tap opens it with what was last used, one keeps.
import { fromLonLat, toLonLat } from "ol/proj";
import type { LonLat } from "../../shared/coords/geodesic";
import type { Utility } from "../../shared/lib/api";
import { errorMessage } from "../../shared/lib/http";
import { lengthText } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { pixelOf } from "../../shared/measure/crosshair";
import type { Session } from "../app/parts";
import { clockWarning } from "../live/clock";
import { makeAgain } from "./again";
import { askWriter, typePlace } from "./ask";
import { composed, type Editing } from "./compose";
import { choose, kindChoices, methodChoices, referenceChoices, surfaceChoices, utilityChoices } from "./choices";
import { metresOf, pressed, stepped } from "./depth";
import { type Draft, draftOf, hasDepth, isDrawn, keepDraft, keepRun, nextDraft, storedDraft, storedRun } from "./draft";
import { type Entry, newId, writeEntry, type Writer } from "./entry";
import type { Mark } from "./fold";
import { followInstrument } from "./instrument";
import { keptText, whereabouts } from "./marktext";
import { morePage } from "./more";
import { type Chip, makePad } from "./pad";
import { depthOf, nearDepths, padState, readingOf, type Told } from "./padstate";
import { atCross, atReceiver, averaged, type Place } from "./place";
import { makePoints } from "./points";
import { doubtsAfter, limits, type Run } from "./run";
import type { KeptPhoto } from "./store";
import { writerName } from "./writer";

interface Recorder {
  /** Opens the pad. */
  open(): void;
  /** Opens the pad with a mark, to change it. */
  edit(mark: Mark): void;
}

interface Parts {
  session: Session;
  utilities: Utility[];
  utilityOf(code: string): Utility;
  writer(): Writer;
  /** Keeps entries and photos on this phone; fails with a sentence. */
  keep(entries: Entry[], photos: KeptPhoto[]): Promise<void>;
  markOf(id: string): Mark | undefined;
  marks(): Mark[];
  strike(mark: Mark, why: string): Promise<void>;
  /** why photos cannot be kept, "" where they can */
  noPhotos: string;
  openList(): void;
}

const told = (text: string, alarm = false): Told => ({ text, alarm, mark: "", kept: "" });

export function makeRecorder(parts: Parts): Recorder {
  const { session } = parts;
  const { about: { id: pack, units }, base, crosshair, here, mapView, sheet } = session;
  const points = makePoints(mapView);
  const again = makeAgain();
  let draft = storedDraft();
  let run = storedRun(pack);
  let from: Draft["from"] = draft.from;
  let [typed, busy, said] = ["", "", told("")];
  let editing: Editing | null = null;
  let typedPlace: Place | null = null;
  let photos: KeptPhoto[] = [];
  let [keys, clockTold] = [false, false];
  let timer: ReturnType<typeof setInterval> | undefined;

  const change = (part: Partial<Draft>) => {
    draft = { ...draft, ...part };
    if (editing === null) keepDraft(draft);
    show();
  };
  const center = () => toLonLat(mapView.view.getCenter() ?? [0, 0]) as LonLat;
  const cross = () => atCross(center(), pixelOf(mapView, base), units);
  const receiver = () => atReceiver(here.now(), draft.antenna, units, Date.now());
  const placeNow = (): Place | string => typedPlace ?? (from === "receiver" && !isDrawn(draft.kind) ? receiver() : cross());
  /** What an instrument said, where nothing is pressed in its place. */
  const heard = () => (typed === "" && editing === null && draft.kind === "reading" ? instrument.now() : null);
  const depthNow = () => depthOf(draft, typed, heard(), units);
  const whatNow = () => `${draft.kind} of ${draft.utility}`;
  /** Where readings of a utility lie, but for a mark that is changed. */
  const readingsOf = (utility: string): LonLat[] => parts.marks().flatMap(({ id, struck, feature: { geometry, properties: p } }) =>
    (struck === null && id !== editing?.mark.id && geometry?.type === "Point" && hasDepth(p.kind) && p.utility === utility ? [geometry.coordinates] : []));
  const unmoved = () => editing !== null && !editing.moved;
  /** The run that the next reading goes on with. */
  const going = (): Run | null => (draft.kind === "reading" && editing === null && run?.utility === draft.utility ? run : null);
  const show = () => {
    if (pad.box.hidden) return;
    const place = placeNow();
    // The cross shows only where the next mark goes to it.
    document.body.classList.toggle("off-cross", unmoved() || typeof place === "string" || place.placing.from !== "cross");
    pad.show(padState({
      units, draft, utility: parts.utilityOf(draft.utility), typed, heard: heard(), busy, keys, run: going(), editing: editing !== null, unmoved: unmoved(),
      place, points: points.count(), told: tellNow(),
    }));
  };
  /** What is told, with where the mark that was kept is by now. */
  const tellNow = (): Told => {
    const mark = parts.markOf(said.kept);
    return mark === undefined ? said : { ...said, text: [keptText(mark, parts.utilityOf(mark.feature.properties.utility), whereabouts(mark, false), units), said.text].filter((t) => t !== "").join(" ") };
  };
  const setRun = (next: Run | null) => {
    run = next;
    keepRun(pack, next);
  };

  /** Where the mark is to lie, after averaging where that is wanted; a sentence where there is no place. */
  const placeToKeep = async (): Promise<Place | string> => {
    if (typedPlace !== null || from !== "receiver" || draft.average === 0) return placeNow();
    return averaged(here.now, draft.average, draft.antenna, units, (left) => {
      busy = say("marking.averaging", { n: left });
      show();
    });
  };
  const keep = async () => {
    if (busy !== "" || !again.open(performance.now())) return;
    if (writerName() === "") return askWriter(sheet, () => void keep());
    const line = going()?.line ?? (draft.kind === "reading" && editing === null ? newId() : "");
    busy = say("marking.keeping");
    try {
      const one = await composed({ draft, typed, depth: depthNow(), heard: heard(), line, editing, points, cross: cross(), place: placeToKeep });
      if (typeof one === "string") {
        said = told(one, true);
        return;
      }
      if (editing === null && hasDepth(draft.kind) && depthNow() === null && one.place !== null && again.asks(whatNow(), one.place, performance.now())) {
        said = told(say("marking.again"), true);
        return;
      }
      if (draft.kind === "nothing found" && one.place !== null && again.beside(whatNow(), one.place, readingsOf(draft.utility), performance.now())) {
        said = told(say("marking.beside", { within: lengthText(limits.beside, units) }), true);
        return;
      }
      const entry = writeEntry(parts.writer(), one.feature, editing?.mark ?? null);
      await parts.keep([entry], photos);
      kept(entry, line, one.place);
    } catch (e) {
      said = told(errorMessage(e), true);
    } finally {
      busy = "";
      show();
    }
  };
  /** After a mark is kept: what does not fit is told, and the pad is ready for the next. */
  const kept = (entry: Entry, line: string, place: Place | null) => {
    const depth = depthNow();
    again.kept(whatNow(), place, performance.now());
    const doubts = [...place?.doubts ?? [], ...[clockTold ? "" : clockWarning(session.connection.ahead())].filter((t) => t !== "")];
    clockTold = true; // once each time the pad is opened: what does not fit between readings must not drown in it
    instrument.used();
    if (line !== "" && place !== null) {
      const [before, reading] = [going(), readingOf(draft, depth, place.at)];
      if (before !== null) doubts.unshift(...doubtsAfter(before, reading, units));
      setRun({ line, utility: draft.utility, last: entry.mark, count: (before?.count ?? 0) + 1, reading, before: before && { ...before, before: null } });
    }
    const changed = editing !== null;
    said = { text: doubts.join(" "), alarm: doubts.length > 0, mark: changed ? "" : entry.mark, kept: entry.mark };
    [typed, photos, typedPlace, editing, keys] = ["", [], null, null, false];
    points.clear();
    draft = changed ? storedDraft() : nextDraft(draft);
    keepDraft(draft);
    if (changed) crosshair.end();
    else if (place !== null) mapView.reveal(fromLonLat(place.at));
  };
  const failed = (e: unknown) => {
    said = told(errorMessage(e), true);
    show();
  };
  const endRun = () => {
    const last = run === null ? undefined : parts.markOf(run.last);
    setRun(null);
    said = told(say("marking.run_ended"));
    show();
    if (last === undefined || last.struck !== null) return;
    const properties = { ...last.feature.properties, line_ended: true };
    parts.keep([writeEntry(parts.writer(), { ...last.feature, properties }, last)], []).catch(failed);
  };
  const undo = () => {
    const mark = parts.markOf(said.mark);
    if (mark === undefined) return;
    if (run?.last === mark.id) setRun(run.before ?? null);
    again.forget();
    said = told(say("marking.undone"));
    show();
    parts.strike(mark, say("marking.undo_why")).catch(failed);
  };
  const chip = (which: Chip) => {
    switch (which) {
      case "kind": return choose(sheet, say("marking.which_kind"), kindChoices(), draft.kind, (kind) => {
        points.clear();
        // What a surface feature is stands in its label, which is a number or a name elsewhere.
        change({ kind, ...([kind, draft.kind].includes("surface feature") ? { label: "" } : {}) });
        if (kind === "unlocatable") openMore();
        if (kind === "surface feature") choose(sheet, say("marking.which_surface"), surfaceChoices(), "?", (label) => (label === "" ? openMore() : change({ label })));
      });
      case "utility": return choose(sheet, say("marking.which_utility"), utilityChoices(parts.utilities), draft.utility, (utility) => change({ utility }));
      case "method": return choose(sheet, say("marking.which_method"), methodChoices(), draft.method, (method) => change({ method }));
      case "reference": return choose(sheet, say("marking.which_reference"), referenceChoices(), draft.reference, (reference) => change({ reference }));
      case "more": return openMore();
    }
  };
  const more = morePage({
    units, pack, draft: () => draft, change, noPhotos: parts.noPhotos, photo: (p) => void photos.push(p), marks: parts.openList, redraw: () => sheet.redrawPage(more), close: sheet.close,
    typePlace: () => typePlace(session, (p) => {
      typedPlace = p;
      if (editing !== null) editing.moved = true;
      mapView.moveTo({ lon: p.at[0], lat: p.at[1], zoom: mapView.view.getZoom() ?? 20 });
      show();
    }),
  });
  const openMore = () => {
    sheet.open(more);
    sheet.full();
  };
  const press = (text: string) => {
    typed = text;
    if (said.alarm && said.kept === "") said = told("");
    show();
  };
  const pad = makePad(units, {
    chip, endRun, undo, keep: () => void keep(), done: crosshair.end,
    place() {
      if (editing !== null && !editing.moved) editing.moved = true;
      else if (typedPlace !== null) typedPlace = null;
      else change({ from: from = from === "receiver" ? "cross" : "receiver" });
      show();
    },
    key: (key) => press(pressed(typed, key, units)),
    keys() {
      keys = !keys;
      show();
    },
    near: (i) => press(nearDepths(run, units)[i] ?? typed),
    take() {
      points.add(center());
      show();
    },
  });
  const tool = {
    bar: pad.box,
    take: () => (isDrawn(draft.kind) ? points.add(center()) : void keep()),
    back() {
      points.back();
      show();
    },
    stopped() {
      clearInterval(timer);
      document.body.classList.remove("marking", "off-cross");
      points.clear();
      if (editing !== null) draft = storedDraft();
      [editing, typedPlace, typed] = [null, null, ""];
    },
  };
  const open = () => {
    sheet.close();
    session.toast.hide();
    [said, clockTold] = [told(""), false];
    // The place comes from what there is when the pad opens; after that it changes only by hand.
    const there = receiver();
    from = draft.from === "receiver" && typeof there !== "string" && !there.elsewhere ? "receiver" : "cross";
    crosshair.begin(tool);
    document.body.classList.add("marking");
    clearInterval(timer);
    timer = setInterval(show, 500);
    show();
  };
  const instrument = followInstrument(session.events, show);
  mapView.view.on("propertychange", show);
  return {
    open,
    edit(mark) {
      open();
      const p = mark.feature.properties;
      typed = typeof p.depth_m !== "number" ? "" : metresOf(p.depth_as_typed ?? "", units) === p.depth_m ? p.depth_as_typed ?? "" : stepped(p.depth_m, 0, units);
      editing = { mark, typed, moved: false };
      draft = draftOf(p, draft);
      photos = [];
      show();
    },
  };
}
