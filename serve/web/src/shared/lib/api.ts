// What the field server answers. Any text may be "", which means "not stated".
import type { Units } from "./units";

/** One pack in /packs.json. */
export interface PackEntry {
  id: string;
  name: string;
  about: string;
  /** what else the list tells of a pack; absent where the laptop does not tell it */
  number?: string;
  source?: string;
  deepest_zoom?: number;
  packed?: string;
  /** changes whenever the pack does */
  version?: string;
  verdict?: Verdict;
}

/** What checking a version of a pack showed: of the pack, never of the ground. */
export interface Verdict {
  state: "unchecked" | "fit" | "not fit";
  faults: number;
  /** the first few faults, a sentence each */
  first: string[];
  /** the version it is on, where that is told beside it */
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
  /** what was worked out of the records; "" or absent when the pack does not tell */
  known?: string;
  /** where its parts are asked for when it is large; then `known` is not asked for */
  known_large?: DerivedTiles;
  source: { name: string; attribution: string; captured: string };
  fetched: { oldest: string; newest: string } | null;
  packed: string;
  /** the beginning of the pack's seal; "" or absent where it has none */
  seal?: string;
  invented: boolean;
  ticket: { number: string; valid_until: string } | null;
  /** stated: the length in the job's own words; absent or "" where not kept */
  tolerance: { each_side_m: number; stated?: string; rule: string } | null;
  deepest_zoom: number;
  shallowest_zoom: number;
  tile_size: number;
  ground_resolution_m: number;
  holes: number;
  cautions: string[];
  expected_missing: string[];
  /** of those: there is a record, and it shows nothing on or near the dig area; absent where the pack does not tell */
  expected_nothing_here?: string[] | null;
  /** their records show something near the dig area and nothing in it */
  expected_only_near?: string[] | null;
}

/** Addresses of what was worked out of very many readings. */
export interface DerivedTiles {
  zones: { tilejson: string; near: string };
  crossings: { tilejson: string; near: string };
  entries: string;
}

/** The keys of TileJSON 3.0.0 that the page uses, and one of our own. */
export interface TileJSON {
  tiles: string[];
  minzoom?: number;
  /** from here to minzoom the server shrinks tiles */
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
  /** as stated; absent where the pack does not tell */
  datum?: string;
  /** rows of its table that the map manager left out; absent for none */
  left_out?: { line: number; why: string }[] | null;
  /** of a large record: what describes its vector tiles, and where its features are asked for by place */
  tilejson?: string;
  near?: string;
}

/** How lines of a utility look at a quality level; lengths are pixels. */
export interface LineSymbol {
  /** null for an unbroken line */
  dash: number[] | null;
  round: boolean;
  ticks: Tick[] | null;
  /** from one group of ticks to the next */
  every: number;
  hatch: { angle: number; gap: number; crossed: boolean };
}

/** A stroke across the line; a length of 0 is a dot. Lean is degrees from square to the line. */
interface Tick {
  at: number;
  length: number;
  lean: number;
  left: boolean;
  right: boolean;
}

/** What a state adds to the look of a line. */
export interface StateSymbol {
  state: string;
  /** in ink across the line */
  strokes: Tick[];
  /** from one group of strokes to the next */
  every: number;
  /** whether the middle of the line is of the color of its casing */
  hollow: boolean;
  /** written behind the letter */
  word: string;
}

/** Looks by utility and quality level; the level "" stands for all but A to D. */
export type LineSymbols = Record<string, Record<string, LineSymbol>>;
