// What a phone keeps of a pack when it is asked to, as pure functions.
import type { PackEntry } from "../../shared/lib/api";

/** /packs/{id}/keep.json: what to keep of a version of a pack. Nothing is listed unless its terms allow copies. */
export interface KeepList {
  /** "allowed", "forbidden", or "" where the terms of the base map do not say */
  copies: string;
  version: string;
  /** the path of a tile, with {z}, {x} and {y} */
  tiles?: string;
  /** how many tiles there are; set also where they are too many to keep */
  count: number;
  too_many?: boolean;
  /** of the packed tiles and the records */
  bytes: number;
  spans?: { z: number; y: number; x: number; marks: string }[];
  documents?: string[];
  large?: LargePart[];
  /** of the vector tiles: west, south, east, north in degrees */
  box?: number[];
}

/** A part of the records that comes in vector tiles. */
interface LargePart {
  tilejson: string;
  tiles: string;
  near: string;
  whole: string;
  parts?: string[];
}

/** Something to keep: its path, and the beginning of the SHA-256 of its content, "" where none is known. */
export interface Wanted {
  path: string;
  mark: string;
}

/** What a copy says of itself. */
export interface KeptRecord {
  entry: PackEntry;
  version: string;
  seal: string;
  /** when it was begun, and when it was complete; "" while it is not */
  began: string;
  finished: string;
  /** the content that is kept so far, in bytes */
  bytes: number;
}

/** How a copy stands against its list. */
export interface Proof {
  kept: number;
  all: number;
}

const markLength = 16;
/** The deepest zoom of vector tiles that is kept: a tile of it is 15 m wide at a latitude of 40 degrees, and 1 / 4096 of that is 4 mm. */
export const deepestVector = 21;

const prefix = "groundsheet kept 1 ";
/** The name of the cache that holds the copy of a version of a pack. */
export const keptName = (pack: string, version: string): string => `${prefix}${pack} ${version}`;
export const isKeptName = (name: string): boolean => name.startsWith(prefix);
/** Whether a cache holds a copy of some version of a pack. */
export const isCopyOf = (name: string, pack: string): boolean => name.startsWith(`${prefix}${pack} `);
/** The pack in a cache's name. */
export const packIn = (name: string): string => name.slice(prefix.length, name.lastIndexOf(" "));
/** The header of a request for something to keep: the worker lets it pass. */
export const keepingHeader = "Groundsheet-Keeping";
/** The path under which a copy keeps its record; the server has nothing there. */
export const recordPath = (pack: string): string => `/packs/${pack}/kept`;
export const listPath = (pack: string): string => `/packs/${pack}/keep.json`;

const fill = (template: string, z: number, x: number, y: number) =>
  template.replace("{z}", String(z)).replace("{x}", String(x)).replace("{y}", String(y));

/** Everything to keep by a list, documents first: with them alone the records can be read. */
export function wantedOf(list: KeepList): Wanted[] {
  const all: Wanted[] = (list.documents ?? []).map((path) => ({ path, mark: "" }));
  for (const part of list.large ?? []) {
    all.push({ path: part.tilejson, mark: "" });
    if (list.box) all.push(...vectorTiles(part.tiles, list.box, shallowestZoom(list)));
  }
  for (const { z, y, x, marks } of list.spans ?? []) {
    for (let i = 0; i * markLength < marks.length; i++) {
      const mark = marks.slice(i * markLength, (i + 1) * markLength);
      all.push({ path: fill(list.tiles ?? "", z, x + i, y), mark: mark.startsWith("-") ? "" : mark });
    }
  }
  return all;
}

const shallowestZoom = (list: KeepList) => Math.min(...(list.spans ?? []).map((s) => s.z), deepestVector);

/** The vector tiles over a box with one more at each side, which the page loads too; one zoom less deep than pictures of half their side. */
function vectorTiles(template: string, box: number[], shallowest: number): Wanted[] {
  const all: Wanted[] = [];
  const [west = 0, south = 0, east = 0, north = 0] = box;
  for (let z = Math.max(0, shallowest - 1); z <= deepestVector; z++) {
    const n = 2 ** z;
    const column = (lon: number) => Math.floor(((lon + 180) / 360) * n);
    const row = (lat: number) => Math.floor((0.5 - Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360)) / (2 * Math.PI)) * n);
    for (let y = Math.max(0, row(north) - 1); y <= Math.min(n - 1, row(south) + 1); y++) {
      for (let x = Math.max(0, column(west) - 1); x <= Math.min(n - 1, column(east) + 1); x++) all.push({ path: fill(template, z, x, y), mark: "" });
    }
  }
  return all;
}

/** What of a list is missing among the paths that are kept. */
export function missingOf(wanted: Wanted[], kept: ReadonlySet<string>): Wanted[] {
  return wanted.filter((w) => !kept.has(w.path));
}

/** How much of a list is kept. */
export function proofOf(wanted: Wanted[], kept: ReadonlySet<string>): Proof {
  return { kept: wanted.length - missingOf(wanted, kept).length, all: wanted.length };
}

/** Why a job cannot be kept. */
export type Obstacle = "not-stated" | "forbidden" | "too-many" | "ended" | "no-room";

/** What stands in the way of keeping a job: the terms, their end, its size, and the room on the phone (null = not told). */
export function obstacleOf(list: KeepList, keepUntil: string | null, room: number | null, now: Date): Obstacle | null {
  if (list.copies === "forbidden") return "forbidden";
  if (list.copies !== "allowed") return "not-stated";
  if (keepUntil !== null && Date.parse(keepUntil) <= now.getTime()) return "ended";
  if (list.too_many === true) return "too-many";
  return room !== null && room < list.bytes * 1.1 ? "no-room" : null;
}

/** Whether a browser says that there is no more room. */
export function isFull(e: unknown): boolean {
  const name = e instanceof Error ? e.name : "";
  return name === "QuotaExceededError" || name === "NS_ERROR_DOM_QUOTA_REACHED" || name === "NS_ERROR_FILE_NO_DEVICE_SPACE";
}

/** A size to two digits: "850 kB", "12 MB", "1.4 GB". */
export function sizeText(bytes: number): string {
  const [by, unit] = bytes >= 1e9 ? [1e9, "GB"] : bytes >= 1e6 ? [1e6, "MB"] : [1e3, "kB"];
  return `${Number((bytes / Number(by)).toPrecision(2)).toLocaleString("en")} ${unit}`;
}

/** Which copy answers for a pack while the laptop is out of reach: of the version that was last seen; where none was seen, the latest that is complete. */
export function copyToShow(copies: { version: string; finished: string }[], seen: string): string {
  if (seen !== "") return copies.find((c) => c.version === seen)?.version ?? "";
  const complete = copies.filter((c) => c.finished !== "").sort((a, b) => (a.finished < b.finished ? 1 : -1));
  return (complete[0] ?? copies[0])?.version ?? "";
}

/** A list of packs with those that are kept and not in it. */
export function withKept(listed: PackEntry[], kept: PackEntry[]): PackEntry[] {
  const all = [...listed];
  for (const one of kept) if (!all.some((p) => p.id === one.id)) all.push(one);
  return all;
}

/** The tiles above a tile, nearest first, as paths, with the part of each that shows it. */
export function ancestors(path: string): { path: string; tile: string; scale: number; x: number; y: number }[] {
  const m = /^(.*\/tiles\/)(\d+)\/(\d+)\/(\d+)(\..*)$/.exec(path);
  if (!m) return [];
  const [, before = "", , , , after = ""] = m;
  const [z, x, y] = [Number(m[2]), Number(m[3]), Number(m[4])];
  return Array.from({ length: z }, (_, i) => {
    const up = i + 1;
    const scale = 2 ** up;
    const tile = `${z - up}/${Math.floor(x / scale)}/${Math.floor(y / scale)}`;
    return { path: `${before}${tile}${after}`, tile, scale, x: x % scale, y: y % scale };
  });
}
