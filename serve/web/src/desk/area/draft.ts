// Areas that are being drawn, one for each job and one of a new job: they are only on this page until they are saved.
import type { Units } from "../../shared/lib/units";
import type { Desk, Job } from "../app/desk";
import { makeAreaReader } from "./readarea";
import { type History, makeHistory, type Shape } from "./shapes";

/** An area that is being drawn. */
export interface Draft {
  job: string | null;
  etag: string;
  units: Units;
  history: History;
  dropped: { file: string; along: boolean }[];
  saved: Shape[];
}

export const isDirty = (d: Draft | null): boolean => d !== null && d.history.now !== d.saved;

interface Drafts {
  /** What was drawn of a job and neither saved nor given up; "" is of a new one. */
  of(job: string): Draft | undefined;
  keep(d: Draft): void;
  forget(d: Draft): void;
  /** What was drawn, else the area as it is in the job's files, with what is to be told of them. */
  read(job: Job | null): Promise<{ draft: Draft; notes: string[] }>;
  /** Reads ahead the area of a job that is looked at. */
  ahead(job: Job): void;
}

export function makeDrafts(desk: Desk, changed: () => void): Drafts {
  const kept = new Map<string, Draft>();
  const areaOf = makeAreaReader(desk);
  const make = (job: string | null, etag: string, units: Units, saved: Shape[]): Draft =>
    ({ job, etag, units, history: makeHistory(saved, changed), dropped: [], saved });
  return {
    of: (job) => kept.get(job),
    keep: (d) => kept.set(d.job ?? "", d),
    forget: (d) => kept.delete(d.job ?? ""),
    async read(job) {
      const before = kept.get(job?.id ?? "");
      if (before !== undefined) return { draft: before, notes: [] };
      if (job === null) return { draft: make(null, "", "us", []), notes: [] };
      const { etag, shapes, notes } = await areaOf(job);
      return { draft: make(job.id, etag, job.units, shapes), notes };
    },
    ahead: (job) => void areaOf(job).catch(() => undefined),
  };
}
