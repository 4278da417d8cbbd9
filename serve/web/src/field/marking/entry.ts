// What a crew adds, as it is sent: an entry writes, strikes or restores a mark. Its text is made once and kept as it is.
import type { LonLat } from "../../shared/coords/geodesic";

/** All kinds of marks, in the order in which they are offered. */
export const kinds = ["reading", "line", "area", "test hole", "surface feature", "nothing found", "unlocatable"] as const;
export type Kind = (typeof kinds)[number];

export interface Photo {
  /** SHA-256 of the bytes, in hexadecimal digits */
  hash: string;
  type: "image/jpeg";
  bytes: number;
  /** as the camera states them; null where it does not */
  taken: string | null;
  direction_deg: number | null;
  lat: number | null;
  lon: number | null;
}

/** How the place came about, with the evidence for it as it was told. */
export interface Placing {
  from: "receiver" | "cross" | "typed";
  kind?: string;
  satellites?: number | null;
  hdop?: number | null;
  error_m?: number | null;
  stated_m?: number | null;
  grounds?: string;
  corrections_s?: number | null;
  station?: string | null;
  antenna_height_m?: number | null;
  averaged_s?: number | null;
  averaged_n?: number | null;
  spread_m?: number | null;
  receiver_time?: string;
  ahead_s?: number | null;
  frame?: string | null;
  recorded?: boolean;
  /** how old the position was when it was kept */
  age_s?: number | null;
}

export interface MarkProperties {
  kind: Kind;
  utility: string;
  owner?: string;
  label?: string;
  line?: string;
  line_ended?: boolean;
  depth_m?: number | null;
  depth_as_typed?: string;
  depth_reference?: string;
  method?: string;
  frequency_hz?: number | null;
  current_ma?: number | null;
  quality_level?: string;
  reason?: string;
  note?: string;
  photos?: Photo[];
  position?: Placing;
  /** what an instrument said of it, to the letter, and when the laptop got it */
  instrument?: { line: string; received: string };
}

export type Shape =
  | { type: "Point"; coordinates: LonLat }
  | { type: "LineString"; coordinates: LonLat[] }
  | { type: "Polygon"; coordinates: LonLat[][] };

export interface MarkFeature {
  type: "Feature";
  geometry: Shape | null;
  properties: MarkProperties;
}

export interface Entry {
  layout: 1;
  id: string;
  /** the ID of the first entry of the mark */
  mark: string;
  /** the entries of the mark that its writer saw as newest */
  after: string[];
  action: "write" | "strike" | "restore";
  why?: string;
  who: string;
  phone: string;
  /** by this device's clock, and how far that was ahead of the laptop's; null while not known */
  clock: string;
  clock_ahead_s: number | null;
  feature: MarkFeature | null;
}

/** Bytes as hexadecimal digits. */
export const hex = (bytes: Uint8Array): string => Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");

/** A new ID: 32 hexadecimal digits. Works on plain pages too, unlike randomUUID. */
export const newId = (): string => hex(crypto.getRandomValues(new Uint8Array(16)));

/** Who writes, on what device, by what clock. */
export interface Writer {
  who: string;
  phone: string;
  /** this device's clock minus the laptop's, in milliseconds; null while not known */
  ahead: number | null;
}

const stamped = ({ who, phone, ahead }: Writer) => ({
  who, phone, clock: new Date().toISOString(), clock_ahead_s: ahead === null ? null : Math.round(ahead) / 1000,
});

/** The entry that writes a mark; of a new one where `of` is null. */
export function writeEntry(writer: Writer, feature: MarkFeature, of: { id: string; tips: string[] } | null): Entry {
  const id = newId();
  return { layout: 1, id, mark: of?.id ?? id, after: of?.tips ?? [], action: "write", ...stamped(writer), feature };
}

/** The entry that strikes a mark or restores it. */
export function strikeEntry(writer: Writer, action: "strike" | "restore", why: string, of: { id: string; tips: string[] }): Entry {
  return { layout: 1, id: newId(), mark: of.id, after: of.tips, action, why, ...stamped(writer), feature: null };
}

/** Reads the text of an entry; null for one that is none. What it holds beyond its frame is not trusted. */
export function parseEntry(text: string): Entry | null {
  try {
    const e = JSON.parse(text) as Entry;
    const good = typeof e.id === "string" && typeof e.mark === "string" && ["write", "strike", "restore"].includes(e.action);
    const written = e.action !== "write" || (e.feature?.type === "Feature" && kinds.includes(e.feature.properties?.kind));
    return good && written ? { ...e, after: Array.isArray(e.after) ? e.after : [] } : null;
  } catch {
    return null;
  }
}
