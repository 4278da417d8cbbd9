// A plan of what is drawn: the answer to POST /api/draft/plan.

export interface ZoomPlan {
  zoom: number;
  tiles: number;
  held: number;
  stale: number;
  fetch: number;
  bytes_estimate: number;
  ground_resolution_m: number;
}

export interface Choice {
  what: string;
  write: string;
  tiles: number;
  bytes_estimate: number;
  fits: boolean;
  set: { key: string; value: unknown }[];
  places: "everywhere" | "near lines" | "nowhere";
  /** "" = the plan as it stands */
  gives_up: string;
}

export interface Drafted {
  source: string;
  zooms: ZoomPlan[];
  tiles: number;
  fetch: number;
  bytes_estimate: number;
  seconds_estimate: number;
  guessed: boolean;
  fit_in: number;
  fits: boolean;
  days: number;
  notes: string[];
  refused: string | null;
  area: string;
  total: string;
  /** how long fetching takes, and what that rests on */
  time: string;
  /** held pictures that are most likely no imagery */
  odd: string[];
  sharpness: string[];
  terms: string;
  /** when the terms' hours allow asking; null when they do now */
  opens: string | null;
  /** when fetching is over if it begins now; null = not known */
  ends: string | null;
  choices: Choice[];
  outline: object;
}
