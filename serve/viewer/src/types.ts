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
  source: { name: string; attribution: string; captured: string };
  fetched: { oldest: string; newest: string } | null;
  packed: string;
  invented: boolean;
  ticket: { number: string; valid_until: string } | null;
  tolerance: { each_side_m: number; rule: string } | null;
  deepest_zoom: number;
  shallowest_zoom: number;
  tile_size: number;
  ground_resolution_m: number;
  holes: number;
  cautions: string[];
  expected_missing: string[];
}

/** The keys of TileJSON 3.0.0 that the page uses. */
export interface TileJSON {
  tiles: string[];
  minzoom?: number;
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
}
