// The area on the map: drawn, changed, looked at by the server, and saved into the job's files by
// a press of its own. Until then it is only on this page.
import { byId, makeButton } from "../../shared/lib/dom";
import type { LonLat } from "../../shared/coords/geodesic";
import { say } from "../../shared/lib/words";
import { opened } from "../app/cell";
import type { Desk } from "../app/desk";
import { bringIntoView } from "../app/map";
import { type BarState, makeBar } from "./bar";
import { makeCross } from "./cross";
import { type Draft, isDirty, makeDrafts } from "./draft";
import { makeEdits } from "./edits";
import { openFacts } from "./facts";
import { readFiles, takeFiles } from "./files";
import { makeLook } from "./look";
import { saveDraft } from "./save";
import { makeSketch, shapeOf, showShapes, toMap } from "./sketch";
import { makePlanTeller } from "./tellplan";
import { makeToolButtons } from "./toolbuttons";
import type { Live, ToolKind } from "./toolcontext";
import { makeTools } from "./tools";
import { placeTyped } from "./typedplace";
import "./area.css";

export function mountArea(desk: Desk): void {
  const sketch = makeSketch();
  const drafts = makeDrafts(desk, changed);
  sketch.layers.forEach((l) => desk.map.addLayer(l));
  let draft: Draft | null = null;
  let live: Live | null = null;

  const marginOf = () => (draft?.job == null ? bar.margin.value.trim() : `${desk.job?.margin_m ?? 0}m`);
  const plan = makePlanTeller(sketch, () => (draft !== null && draft.job === null ? bar.margin.value.trim() : null));
  const tools = makeTools({
    map: desk.map, sketch, units: () => draft?.units ?? "us", width: () => bar.width.value.trim(),
    drawn(s) {
      if (draft === null) return;
      draft.history.set([...draft.history.now, s]);
      setTool(null);
      edits.choose(draft.history.now.length - 1);
    },
    changed(before, after) {
      draft?.history.set(draft.history.now.map((s) => (s === before ? after : s)));
    },
    live(l) {
      live = l;
      if (l !== null && draft !== null) plan.moves(draft.history.now, l);
      drawBar();
    },
    chosen: () => drawBar(),
  });
  const edits = makeEdits(() => draft, sketch, tools, () => setTool(null));
  const bar = makeBar({
    undo: () => draft?.history.undo(),
    redo: () => draft?.history.redo(),
    finish: () => tools.finish(),
    remove: edits.remove,
    choose: edits.choose,
    setWidth: (text) => edits.edit("route", (s) => ({ ...s, width: text })),
    setRadius: (text) => edits.edit("circle", (s) => ({ ...s, radius: text })),
    setMargin: () => changed(),
    place: (text) => void typedPlace(text).catch(desk.fail),
    show,
    save: () => void save().catch(desk.fail),
    close: () => void close().catch(desk.fail),
  });
  const cross = makeCross(desk.map, tools, { undo: () => draft?.history.undo(), redo: () => draft?.history.redo(), remove: edits.remove, cancel: () => setTool(null) });

  const buttons = makeToolButtons((kind) => void openTool(kind).then(() => {
    byId("map").focus({ preventScroll: true });
  }).catch(desk.fail));
  const picker = takeFiles(desk, () => draft !== null || desk.job === null, (files) => void drop(files).catch(desk.fail));
  const file = makeButton([say("draw.file")], () => picker.click());
  const facts = makeButton([say("facts.open")], () => void (desk.job === null ? undefined : openFacts(desk, desk.job).catch(desk.fail)));
  facts.id = "open-facts";
  const fresh = makeButton([say("draw.new")], () => void desk.choose(null).then(open).then(() => setTool("polygon")).catch(desk.fail));
  fresh.id = "new-job";
  desk.tools.prepend(...buttons.elements, file);
  desk.left.querySelector(".head")?.append(fresh);
  desk.actions.prepend(facts);

  function setTool(kind: ToolKind | null): void {
    if (draft === null) return;
    tools.start(kind);
    buttons.mark(kind);
    cross.listen(true);
    drawBar();
  }

  /** Opens the drawing with a tool; what is there already is brought into view before it is changed. */
  async function openTool(kind: ToolKind | null): Promise<void> {
    const begins = draft === null;
    await open();
    if (begins && kind === null) bringIntoView(desk.map, sketch.shapes.getExtent());
    opened.set("tool");
    setTool(kind);
  }

  /** Begins to change the chosen job's area, or to draw one of a new job. */
  async function open(): Promise<Draft> {
    if (draft !== null) return draft;
    const { draft: read, notes } = await drafts.read(desk.job);
    if (draft !== null) return draft; // pressed twice
    notes.forEach(desk.tell);
    return (desk.job?.id ?? null) === read.job ? begin(read) : open();
  }

  function begin(d: Draft): Draft {
    draft = d;
    drafts.keep(d);
    setGround(false);
    byId("panels").scrollTop = 0; // the plan of what is drawn
    draw();
    setTool(null);
    if (isDirty(d)) changed();
    else looks.soon();
    return d;
  }

  /** Takes the drawing off the page; what was not saved stays in drafts unless it is forgotten. */
  function leave(forget: boolean): void {
    if (draft === null) return;
    if (forget) drafts.forget(draft);
    draft = null;
    tools.stop();
    cross.listen(false);
    bar.hide();
    sketch.shapes.clear();
    if (forget) sketch.reference.clear();
    buttons.mark(undefined);
    looks.forget();
    plan.rests(null);
    setGround(true);
  }

  const setGround = (on: boolean) => desk.map.getLayers().forEach((l) => l.get("name") === "ground" && l.setVisible(on));

  function changed(): void {
    if (draft === null) return;
    draw();
    plan.rests(isDirty(draft) ? draft.history.now : null);
    looks.soon();
  }

  function draw(): void {
    if (draft === null) return;
    const { now } = draft.history;
    const next = showShapes(sketch, now);
    if (next !== undefined) tools.choose(next);
    drawBar();
  }

  function drawBar(): void {
    if (draft === null) return;
    const now = draft.history.now;
    const s: BarState = {
      shapes: now, chosen: sketch.chosen === null ? -1 : now.indexOf(shapeOf(sketch.chosen)), tool: tools.kind, live, units: draft.units, area: looks.now.area, odd: looks.now.odd,
      canUndo: draft.history.canUndo, canRedo: draft.history.canRedo, dirty: isDirty(draft), fresh: draft.job === null,
    };
    bar.draw(s);
  }

  const looks = makeLook(desk, sketch, () => (draft === null ? null : { job: draft.job, units: draft.units, margin: marginOf(), shapes: draft.history.now }), () => drawBar());

  function show(at: LonLat): void {
    desk.map.getView().setCenter(toMap(at));
    byId("map").focus({ preventScroll: true });
  }

  /** A typed place is the next corner of what is drawn, else the map goes there. */
  async function typedPlace(text: string): Promise<void> {
    const units = draft?.units ?? "us";
    const place = await placeTyped(desk, text, units);
    if (place === null) return;
    const view = desk.map.getView();
    view.setCenter(toMap(place));
    if ((view.getZoom() ?? 0) < 15) view.setZoom(18);
    if (tools.kind !== null) tools.put(place);
  }

  async function drop(files: File[]): Promise<void> {
    if (files.length === 0) return;
    const d = await open();
    const taken = await readFiles(desk, sketch, files, bar.width.value.trim());
    if (taken === null || draft !== d) return;
    const from = `drop[${d.dropped.length}]`;
    d.dropped.push({ file: taken.file, along: taken.along });
    d.history.set([...d.history.now, ...taken.shapes.map((s, part) => ({ ...s, from, part }))]);
  }

  async function save(): Promise<void> {
    if (draft === null) return;
    const d = draft;
    const job = await saveDraft(desk, d, looks.now.odd, bar.margin.value.trim());
    if (job === null) return;
    if (job === "theirs") {
      leave(true);
      await open();
      return;
    }
    drafts.forget(d);
    if (draft === d) leave(true);
    desk.tell(say("draw.saved", { folder: job.folder }));
    if (d.job === null) await desk.choose(job.id);
    else await desk.reload();
  }

  async function close(): Promise<void> {
    if (isDirty(draft) && await desk.ask(say("draw.lose"), [say("draw.keep"), say("draw.discard")]) !== say("draw.discard")) return;
    leave(true);
  }

  let jobNow = desk.job?.id ?? "";
  desk.onJob((job) => {
    facts.hidden = job === null;
    if (job !== null && job.problem === null) drafts.ahead(job);
    const id = job?.id ?? "";
    if (id === jobNow) {
      if (draft !== null && job !== null && !isDirty(draft) && job.etag !== draft.etag) { // changed elsewhere: drawn anew
        leave(true);
        void open().catch(desk.fail);
      }
      return;
    }
    jobNow = id;
    const wasDirty = isDirty(draft);
    leave(!wasDirty);
    const before = drafts.of(id);
    if (before !== undefined) begin(before);
  });
}
