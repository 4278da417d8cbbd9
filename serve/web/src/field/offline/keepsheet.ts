// "Keep this job on this phone": what is kept, what it takes, what the browser promises.
import type { About, PackEntry } from "../../shared/lib/api";
import { definitionList, make, makeButton, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { type Copy, type Ended, fetchList, keepPack, readCopies, removeCopies } from "./keeper";
import { type KeepList, type KeptRecord, type Obstacle, obstacleOf, sizeText } from "./keeppolicy";
import { copyRows, endedText, obstacleText, otherText } from "./keeptext";
import { copiesOf } from "./keptcopies";
import "./keepsheet.css";

interface KeepSheet {
  /** The part of a sheet; it looks at what is kept whenever it is asked for. */
  section(): Node[];
  /** Sets what hears when the copy of this very version was complete, "" while there is none; it hears at once. */
  onCopy(f: (finished: string) => void): void;
}

/** What the section is made of. */
interface Facts {
  list: KeepList | null;
  copies: Copy[];
  others: KeptRecord[];
  /** bytes that the browser still gives, null where it does not tell */
  room: number | null;
  promised: boolean;
  ended: Ended;
}

/** `several` tells whether the place has other pictures, which are packs of their own. */
export function makeKeepSheet(entry: PackEntry, about: About, several: () => boolean): KeepSheet {
  const box = make("section", "keep");
  let heard: (finished: string) => void = () => undefined;
  let ended: Ended = "";
  let running: AbortController | null = null;
  let looking: Promise<void> | null = null;

  const look = async () => {
    if (!(await hasWorker())) throw new Error("no worker: nothing would open this page without the laptop");
    const [list, copies, all, room, promised] = await Promise.all([
      fetchList(entry.id), readCopies(entry.id), copiesOf(""), roomLeft(), storage?.persisted() ?? false,
    ]);
    const others = all.filter((k) => k.entry.id !== entry.id);
    const copy = copies.find((c) => c.record.version === entry.version);
    heard(copy && isComplete(copy) ? copy.record.finished : "");
    if (running === null) box.replaceChildren(title(), ...content({ list, copies, others, room, promised, ended }));
  };
  const refresh = () => {
    looking ??= look().catch(() => box.replaceChildren(title(), note(say("keep.unable")))).finally(() => { looking = null; });
    return looking;
  };

  const start = async (list: KeepList) => {
    running = new AbortController();
    ended = "";
    const progress = makeProgress(() => running?.abort());
    box.replaceChildren(title(), ...progress.nodes);
    await storage?.persist().catch(() => false); // a browser may ask the person now
    ended = await keepPack(entry, about, list, running.signal, progress.told);
    if (ended === "") await removeCopies(entry.id, list.version);
    running = null;
    await refresh();
  };
  const remove = async (pack: string) => {
    await removeCopies(pack);
    ended = "";
    await refresh();
  };
  const button = (words: string, press: () => void) => Object.assign(makeButton([words], press), { className: "wide" });
  const removeButton = () => button(say("keep.remove"), () => void remove(entry.id));

  const content = (f: Facts): Node[] => [...state(f), ...otherJobs(f.others, (id) => void remove(id))];
  const state = (f: Facts): Node[] => {
    const copy = f.copies.find((c) => c.record.version === entry.version) ?? f.copies[0];
    const obstacle = f.list && obstacleOf(f.list, about.keep_until ?? null, f.room, new Date());
    const why = [...(several() ? [note(say("keep.one_picture", { source: about.source.name || say("layers.no_source") }))] : []), ...(f.ended === "" ? [] : [note(endedText(f.ended))])];
    const { list } = f;
    const keep = (words: string) => (list && obstacle === null ? [button(words, () => void start(list))] : []);
    if (copy === undefined) return [...why, ...offer(f, obstacle), ...keep(say("keep.start"))];
    const shown = copy.record.version === entry.version;
    const whole = isComplete(copy);
    return [
      ...why,
      ...(shown ? [] : [note(say("keep.newer"), "bad"), ...keep(say("keep.keep_newer"))]),
      note(whole ? say("keep.complete", { n: copy.proof.all }) : say("keep.partial", { n: copy.proof.kept, all: copy.proof.all }), whole ? "" : "bad"),
      ...(shown && !whole ? keep(say("keep.go_on")) : []),
      definitionList(copyRows(copy.record, about, new Date())), ...(whole ? [note(say("keep.static"))] : []),
      note(f.promised ? say("keep.promised") : say("keep.not_promised")), note(say("keep.home")), removeButton(),
    ];
  };
  const offer = (f: Facts, obstacle: Obstacle | null): Node[] => {
    const { list, room } = f;
    if (list === null) return [note(say("keep.away"))];
    if (obstacle !== null) return [note(obstacleText(obstacle, list, about.keep_until ?? "", room ?? 0, new Date()))];
    return [
      note(say("keep.offer", { size: sizeText(list.bytes) })), ...(room === null ? [] : [note(say("keep.room", { room: sizeText(room) }))]),
      note(say("keep.not_promised")),
    ];
  };
  return {
    section() {
      if (!canKeep()) return [title(), note(window.isSecureContext ? say("keep.unable") : say("keep.insecure"))];
      if (running === null) void refresh();
      return [box];
    },
    onCopy(f) {
      heard = f;
      if (canKeep()) void readCopies(entry.id).then((copies) => heard(copies.find((c) => c.record.version === entry.version && isComplete(c))?.record.finished ?? ""), () => undefined);
    },
  };
}

/** What tells of the room, and takes promises; iOS has it since 15.2, and estimates since 17. */
const storage: Partial<Pick<StorageManager, "estimate">> & Pick<StorageManager, "persist" | "persisted"> | undefined =
  "storage" in navigator ? navigator.storage : undefined;

const canKeep = (): boolean => window.isSecureContext && "caches" in window && "serviceWorker" in navigator;
const isComplete = (c: Copy): boolean => c.record.finished !== "" && c.proof.kept === c.proof.all;
const title = (): HTMLElement => make("h3", "", say("keep.title"));
const note = (words: string, tone = ""): HTMLElement => make("p", tone === "" ? "hint" : tone, words);

/** How long the worker may take to start, in milliseconds. */
const startMs = 5_000;

/** Whether the worker runs that opens the page without the laptop; a browser that refuses it never says so. */
const hasWorker = (): Promise<boolean> =>
  Promise.race([navigator.serviceWorker.ready.then(() => true), new Promise<boolean>((late) => setTimeout(() => late(false), startMs))]);

/** The room that the browser still gives this page, in bytes; null where it does not tell. */
async function roomLeft(): Promise<number | null> {
  const e = await storage?.estimate?.().catch(() => undefined);
  return e?.quota === undefined ? null : Math.max(0, e.quota - (e.usage ?? 0));
}

/** How often progress is shown, in milliseconds. */
const shownEveryMs = 250;

function makeProgress(stop: () => void): { nodes: Node[]; told(kept: number, all: number): void } {
  const bar = make("progress", "");
  const words = make("p", "");
  words.setAttribute("role", "status");
  bar.setAttribute("aria-label", say("keep.title"));
  let last = 0;
  return {
    nodes: [bar, words, Object.assign(makeButton([say("keep.stop")], stop), { className: "wide" })],
    told(kept, all) {
      if (kept < all && Date.now() - last < shownEveryMs) return;
      last = Date.now();
      bar.max = all;
      bar.value = kept;
      setText(words, say("keep.progress", { n: kept, all }));
    },
  };
}

function otherJobs(others: KeptRecord[], remove: (pack: string) => void): Node[] {
  if (others.length === 0) return [];
  return [make("h4", "", say("keep.others")), ...others.flatMap((k) => [
    make("p", "", otherText(k, new Date())),
    Object.assign(makeButton([say("keep.remove")], () => remove(k.entry.id)), { className: "wide" }),
  ])];
}
