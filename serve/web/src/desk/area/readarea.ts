// The area of a job as its files have it.
import type { Desk, Job } from "../app/desk";
import type { Shape } from "./shapes";

interface Area {
  etag: string;
  shapes: Shape[];
  notes: string[];
}

/** Reads the area of a job once for each state of its files. */
export function makeAreaReader(desk: Desk): (job: Job) => Promise<Area> {
  let read: { key: string; area: Promise<Area> } | null = null;
  return (job) => {
    const key = `${job.id} ${job.etag}`;
    if (read?.key !== key) read = { key, area: desk.api.get<Area>(`/api/jobs/${job.id}/area`) };
    const { area } = read;
    area.catch(() => { read = null; }); // asked again; who opens it is told
    return area;
  };
}
