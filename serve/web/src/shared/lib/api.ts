// The documents of the field server. Any text may be "", which means "not stated".
import type { Units } from "./units";

/** One pack in /packs.json. */
export interface PackEntry {
  id: string;
  name: string;
  about: string;
  /** these are absent where the server is an earlier version */
  number?: string;
  source?: string;
  deepest_zoom?: number;
  packed?: string;
  /** changes with every change of the pack */
  version?: string;
  verdict?: Verdict;
  /** the same for the packs of one job, one a base map */
  job?: string;
  /** how many records it has */
  records?: number;
}

/** The result of checking a version of a pack. It is about the pack, never about the ground. */
export interface Verdict {
  state: "unchecked" | "fit" | "not fit";
  faults: number;
  /** the first few faults, one sentence each */
  first: string[];
  /** the version that was checked, where known */
  version?: string;
}

/** /packs/{id}/about.json: the job, its picture and its terms. */
export interface About {
  id: string;
  name: string;
  number: string;
  units: Units;
  tilejson: string;
  area: string;
  overlays: string;
  /** the derived features; "" or absent in a pack without any */
  known?: string;
  /** set instead of using `known` where there are very many of them */
  known_large?: DerivedTiles;
  source: { name: string; attribution: string; captured: string };
  /** what a drawn base map shows, and how; absent for a picture taken from above */
  drawn?: DrawnRole[];
  fetched: { oldest: string; newest: string } | null;
  /** the terms of the base map allow keeping its pictures until then; null where they state no end */
  keep_until?: string | null;
  packed: string;
  /** the first characters of the pack's seal; "" or absent where it has none */
  seal?: string;
  invented: boolean;
  ticket: { number: string; valid_until: string } | null;
  /** stated: the length in the job's own words; absent or "" in an earlier pack */
  tolerance: { each_side_m: number; stated?: string; rule: string } | null;
  deepest_zoom: number;
  shallowest_zoom: number;
  tile_size: number;
  ground_resolution_m: number;
  holes: number;
  cautions: string[];
  expected_missing: string[];
  /** those with a record that shows nothing on or near the dig area; absent in an earlier pack */
  expected_nothing_here?: string[] | null;
  /** those with a record that shows something near the dig area and nothing in it */
  expected_only_near?: string[] | null;
}

/** One kind of thing on a drawn base map, for the legend. A color may be absent. */
interface DrawnRole {
  role: string;
  words: string;
  shape: string;
  look: { fill?: string; edge?: string; ink: string; dash?: number };
}

/** URLs of derived features where there are very many. */
export interface DerivedTiles {
  zones: { tilejson: string; near: string };
  crossings: { tilejson: string; near: string };
  entries: string;
}

/** The keys of TileJSON 3.0.0 that the page uses, and one of our own. */
export interface TileJSON {
  tiles: string[];
  minzoom?: number;
  /** from this zoom to minzoom the server shrinks tiles */
  shrunk_zoom?: number;
  maxzoom?: number;
  /** west, south, east, north in degrees */
  bounds?: number[];
  attribution?: string;
}

/** One overlay in overlays.json: a record as a whole. */
export interface Overlay {
  id: string;
  title: string;
  utility: string;
  utility_name: string;
  letter: string;
  colour: string;
  casing: string;
  /** ASCE 38 "A" to "D", or the record's own words, or "" */
  quality_level: string;
  recorded: string;
  owner: string;
  record: string;
  accuracy_m: number | null;
  features: number;
  url: string;
  note: string;
  /** as stated; absent in an earlier pack */
  datum?: string;
  /** rows of its table that the map manager left out; absent for none */
  left_out?: { line: number; why: string }[] | null;
  /** of a tiled record: the TileJSON of its vector tiles, and the URL for features near a position */
  tilejson?: string;
  near?: string;
}

/** A utility of the color code, with the names of an overlay. */
export type Utility = Pick<Overlay, "utility" | "utility_name" | "letter" | "colour" | "casing">;

/** The symbol of a utility's lines at a quality level; lengths are pixels. */
export interface LineSymbol {
  /** null for an unbroken line */
  dash: number[] | null;
  round: boolean;
  ticks: Tick[] | null;
  /** from one group of ticks to the next */
  every: number;
  hatch: { angle: number; gap: number; crossed: boolean };
}

/** A stroke across the line; a length of 0 is a dot. Lean is degrees from the perpendicular. */
interface Tick {
  at: number;
  length: number;
  lean: number;
  left: boolean;
  right: boolean;
}

/** What a state adds to the symbol of a line. */
export interface StateSymbol {
  state: string;
  /** across the line, in ink */
  strokes: Tick[];
  /** from one group of strokes to the next */
  every: number;
  /** whether the middle of the line has the color of its casing */
  hollow: boolean;
  /** written after the letter */
  word: string;
}

/** Symbols by utility and quality level; the level "" stands for all but A to D. */
export type LineSymbols = Record<string, Record<string, LineSymbol>>;
