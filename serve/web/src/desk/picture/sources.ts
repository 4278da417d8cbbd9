// The sources of the operator: GET /api/sources.
import type { Api, Problem } from "../app/api";

export interface SourceRow {
  name: string;
  kind: string;
  zooms: [number, number];
  tile_size: number;
  attribution: string;
  captured: string;
  ground_resolution_m: number;
  /** west, south, east, north */
  bounds: [number, number, number, number] | null;
  /** another one is another picture */
  stamp: string;
  terms: string;
  refused: Problem | null;
  opens: string | null;
}

interface Sources {
  file: string;
  sources: SourceRow[];
}

export function readSources(api: Api, jobID: string): Promise<Sources> {
  return api.get<Sources>(jobID === "" ? "/api/sources" : `/api/sources?job=${jobID}`);
}
