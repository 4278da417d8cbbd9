// The documents of serve/desk/records.go.
import type { LineSymbols, Overlay, StateSymbol } from "../../shared/lib/api";

export interface Finding {
  kind: string;
  severity: "fault" | "warning" | "note";
  where: string;
  line?: number;
  detail: string;
}

/** What a pack would say of a record. */
export interface Summary extends Omit<Overlay, "url"> {
  readings: number;
  test_holes: number;
  unlocated: number;
  bounds: { West: number; South: number; East: number; North: number };
}

export interface OverlayRow {
  summary: Summary;
  file: string;
  findings: Finding[];
  /** of its features, one in so many is drawn */
  one_in: number;
  features: object;
}

interface Utility {
  code: string;
  name: string;
  letter: string;
  colour: string;
  casing: string;
}

/** GET /api/jobs/ID/overlays */
export interface Records {
  etag: string;
  overlays: OverlayRow[];
  missing: string[];
  nothing_here: string[];
  only_near: string[];
  utilities: Utility[];
  styles: LineSymbols;
  states: StateSymbol[];
}

/** How a proposal is known, from what is known best to what is not. */
export type Sure = "stated" | "answered" | "fits" | "unknown";

export interface Item {
  key: string;
  name: string;
  value: string;
  sure: Sure;
  why: string;
  choices: { value: string; text: string }[] | null;
  must: boolean;
  fixed: boolean;
}

export interface Column {
  name: string;
  meaning: string;
  unit: string;
  sure: Sure;
  why: string;
  samples: string[] | null;
}

/** POST /api/jobs/ID/records/propose */
export interface Proposal {
  file: string;
  format: string;
  items: Item[];
  columns: Column[];
  first: { line: number; cells: string[] | null }[];
  rows: number;
  unread: Finding[];
  findings: Finding[];
  notes: string[];
  distance: { meters: number; inside: number; near: number; of: number; text: string };
  problem: string;
  utility: string;
  ready: boolean;
  copy: string;
  summary: Summary;
  features: object;
  /** what a column can mean */
  meanings: string[];
  one_in: number;
}

export type Answers = Record<string, string>;
