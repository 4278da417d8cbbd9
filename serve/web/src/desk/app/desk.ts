// What the parts of the desk share.
import type OLMap from "ol/Map";
import type { Extent } from "ol/extent";
import type { Units } from "../../shared/lib/units";
import type { Api, Problem } from "./api";
import type { Events } from "./events";

interface PackFile {
  file: string;
  bytes: number;
}

export interface JobRow {
  id: string;
  folder: string;
  name: string;
  number: string;
  /** of the ticket, "YYYY-MM-DD"; "" = not stated */
  last_day: string;
  packs: PackFile[];
  problem: Problem | null;
}

/** A job as its files are now: GET /api/jobs/ID. */
export interface Job extends JobRow {
  etag: string;
  units: Units;
  margin_m: number;
  ticket: { number?: string; valid_until?: string } | null;
  expected: string[];
  bases: { source: string; zooms: [number, number] | null; deep_along: string }[];
  /** GeoJSON: the area, and with its margin */
  ground: object | null;
  /** the size of the area, for people; "" when its files cannot be read */
  area: string;
  /** west, south, east, north, in degrees; the east may be beyond 180 */
  bounds: [number, number, number, number] | null;
  notes: string[];
  locked_by: string;
}

/** The right column, from the top. */
export type PanelName = "takes" | "source" | "recorded" | "home" | "work" | "keeping";

export interface Panel {
  /** what the part fills */
  body: HTMLElement;
  /** beside the title, for buttons and counts */
  aside: HTMLElement;
  show(on: boolean): void;
  /** Says how it stands, in a word or two, where one chooses among the panels. */
  says(text: string, tone?: "yes" | "no" | ""): void;
}

export interface Dialog {
  body: HTMLElement;
  /** the row of buttons at its foot */
  foot: HTMLElement;
  close(): void;
  /** resolves when it has been closed, by whatever means */
  closed: Promise<void>;
}

export interface Desk {
  api: Api;
  events: Events;
  map: OLMap;
  /** the chosen job as it is now; null when none is chosen */
  readonly job: Job | null;
  /** Runs at once with the chosen job, and whenever it is another one or was changed. */
  onJob(f: (job: Job | null) => void): void;
  /** Chooses a job, or none. */
  choose(id: string | null): Promise<void>;
  /** Reads the chosen job again, after a change of this page's own. */
  reload(): Promise<void>;
  /** The buttons of the header, over the map at the top left, and over the map at the bottom right. */
  actions: HTMLElement;
  tools: HTMLElement;
  over: HTMLElement;
  /** The left column. */
  left: HTMLElement;
  panel(name: PanelName, title: string): Panel;
  dialog(title: string): Dialog;
  /** Says a sentence over the map for some seconds. */
  tell(text: string): void;
  /** Says what went wrong, until it is closed. */
  fail(e: unknown): void;
  /** Asks a question; gives the answer, or null when it was closed. The first answer is the one that changes nothing. */
  ask(text: string, answers: string[]): Promise<string | null>;
  /** Shows a part of the world, in Web Mercator. */
  fit(extent: Extent): void;
}
