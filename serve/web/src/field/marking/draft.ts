// What the next mark will say: as the last one did, until the person changes it. The first says nothing that nobody said.
import { getStored, setStored } from "../../shared/lib/storage";
import { type Kind, type MarkProperties, type Photo } from "./entry";
import { levelOf } from "./methods";
import type { Run } from "./run";

export interface Draft {
  kind: Kind;
  /** code of the utility, "" for not said yet: a mark is not kept without */
  utility: string;
  /** "" for not stated */
  method: string;
  /** what depths are measured to: "center", "top", "bottom", or "" for not stated */
  reference: string;
  hertz: number | null;
  current: number | null;
  /** the chosen quality level; the best that is allowed where it is not allowed */
  level: string;
  owner: string;
  /** how long a position is averaged, in seconds; 0 for not */
  average: number;
  antenna: number | null;
  from: "receiver" | "cross";
  /** of one mark alone: these do not stay */
  label: string;
  reason: string;
  note: string;
  photos: Photo[];
}

const first: Draft = {
  kind: "reading", utility: "", method: "", reference: "", hertz: null, current: null, level: "", owner: "",
  average: 0, antenna: null, from: "receiver", label: "", reason: "", note: "", photos: [],
};

/** The draft as it was left on this phone; a reading, whatever was kept last. */
export function storedDraft(): Draft {
  try {
    const kept = JSON.parse(getStored("marks-draft") || "{}") as Partial<Draft>;
    return { ...first, ...kept, kind: first.kind, label: "", reason: "", note: "", photos: [] };
  } catch {
    return { ...first };
  }
}

export const keepDraft = (d: Draft): void => setStored("marks-draft", JSON.stringify({ ...d, label: "", reason: "", note: "", photos: [] }));

/** The draft without what belongs to one mark alone: another kind than a reading is chosen for each. */
export const nextDraft = (d: Draft): Draft => ({ ...d, kind: first.kind, label: "", reason: "", note: "", photos: [], current: null });

export const hasDepth = (kind: Kind): boolean => kind === "reading" || kind === "test hole";
export const hasMethod = (kind: Kind): boolean => kind !== "surface feature" && kind !== "test hole" && kind !== "unlocatable";
/** Whether it is drawn point by point. */
export const isDrawn = (kind: Kind): boolean => kind === "line" || kind === "area";

/** The properties of the mark that a draft makes, without its place. */
export function propertiesOf(d: Draft, depth: { metres: number; typed: string } | null, line: string): MarkProperties {
  const p: MarkProperties = { kind: d.kind, utility: d.utility };
  const text = (name: "owner" | "label" | "note" | "reason" | "method", value: string) => {
    if (value.trim() !== "") p[name] = value.trim();
  };
  text("owner", d.owner);
  text("label", d.label);
  text("note", d.note);
  if (d.kind === "unlocatable") text("reason", d.reason);
  if (hasMethod(d.kind)) text("method", d.method);
  if (hasDepth(d.kind) && depth !== null) Object.assign(p, { depth_m: depth.metres, depth_as_typed: depth.typed, depth_reference: d.reference });
  if (d.kind === "reading") {
    if (d.hertz !== null) p.frequency_hz = d.hertz;
    if (d.current !== null) p.current_ma = d.current;
    if (line !== "") p.line = line;
  }
  const level = levelOf(d.kind, p.method ?? "", d.level);
  if (level !== "") p.quality_level = level;
  if (d.photos.length > 0) p.photos = d.photos;
  return p;
}

/** The draft that a mark came from, to change it. */
export function draftOf(p: MarkProperties, now: Draft): Draft {
  return {
    ...now, kind: p.kind, utility: p.utility, method: p.method ?? "", reference: p.depth_reference ?? "", hertz: p.frequency_hz ?? null, current: p.current_ma ?? null,
    level: p.quality_level ?? "", owner: p.owner ?? "", label: p.label ?? "", reason: p.reason ?? "", note: p.note ?? "", photos: p.photos ?? [],
  };
}

const runKey = (pack: string) => `marks-run/${pack}`;

/** The run of readings that goes on; null for none. */
export function storedRun(pack: string): Run | null {
  try {
    return JSON.parse(getStored(runKey(pack)) || "null") as Run | null;
  } catch {
    return null;
  }
}

export const keepRun = (pack: string, run: Run | null): void => setStored(runKey(pack), run === null ? "" : JSON.stringify(run));
