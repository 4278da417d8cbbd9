// Files that are dropped on the map or chosen: what is in them is asked for, and nothing is taken unasked.
import Feature from "ol/Feature";
import { LineString, MultiPoint } from "ol/geom";
import { createEmpty, extend } from "ol/extent";
import { toLonLat } from "ol/proj";
import { byId, make } from "../../shared/lib/dom";
import type { LonLat } from "../../shared/coords/geodesic";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";
import { askHow, type Asked } from "./howread";
import { linesOf, type Shape } from "./shapes";
import { type Sketch, toMap } from "./sketch";

interface Read {
  file: string;
  name: string;
  outlines: Shape[];
  routes: Shape[];
  points: LonLat[];
  notes: { outlines: string[]; routes: string[] };
  asks: Asked | null;
}

/** What a dropped file is taken as. */
interface Taken {
  file: string;
  along: boolean;
  shapes: Shape[];
}

/** Listens for files over the map, while `wanted`: else they are records of the job. */
export function takeFiles(desk: Desk, wanted: () => boolean, take: (files: File[]) => void): HTMLInputElement {
  const stage = byId("stage");
  const mine = (e: DragEvent) => (e.dataTransfer?.types.includes("Files") ?? false) && wanted();
  const hear = (name: "dragover" | "dragleave" | "drop", f: (e: DragEvent) => void) => stage.addEventListener(name, (e) => {
    if (!mine(e)) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    f(e);
  }, { capture: true });
  hear("dragover", () => stage.classList.add("dropping"));
  hear("dragleave", () => stage.classList.remove("dropping"));
  hear("drop", (e) => {
    stage.classList.remove("dropping");
    take([...(e.dataTransfer?.files ?? [])]);
  });
  const input = make("input", "");
  Object.assign(input, { type: "file", multiple: true, id: "draw-file", tabIndex: -1 });
  input.hidden = true;
  input.addEventListener("change", () => {
    take([...(input.files ?? [])]);
    input.value = "";
  });
  desk.tools.append(input);
  return input;
}

/** Reads files together, and asks what they are; null when they were only put under the drawing, to snap to. */
export async function readFiles(desk: Desk, sketch: Sketch, files: File[], width: string): Promise<Taken | null> {
  const names = files.map((f) => `name=${encodeURIComponent(f.name)}&size=${f.size}`).join("&");
  const at = `&at=${toLonLat(desk.map.getView().getCenter() ?? [0, 0]).join(",")}`;
  let how = "";
  let read = await desk.api.send<Read>(`/api/read?${names}${at}`, new Blob(files));
  while (read.asks !== null) {
    const answer = await askHow(desk, read.name, read.asks);
    if (answer === null) return null;
    how += `&${read.asks.key}=${encodeURIComponent(answer)}`;
    read = await desk.api.send<Read>(`/api/read?${names}${at}${how}`, new Blob(files));
  }
  const extent = createEmpty();
  for (const s of [...read.outlines, ...read.routes]) for (const l of linesOf(s)) for (const p of l) extend(extent, [...toMap(p), ...toMap(p)]);
  const [asArea, asRoute, under] = [say("draw.as_area", { n: read.outlines.length }), say("draw.as_route", { n: read.routes.length, width }), say("draw.as_reference")];
  const answers = [under, ...(read.routes.length > 0 ? [asRoute] : []), ...(read.outlines.length > 0 ? [asArea] : [])];
  const answer = await desk.ask(say("draw.what_is", { file: read.name }), answers);
  if (answer === null) return null;
  if (Number.isFinite(extent[0])) desk.fit(extent);
  for (const n of answer === asArea ? read.notes.outlines : answer === asRoute ? read.notes.routes : []) desk.tell(`${read.name}: ${n}`);
  if (answer === asArea) return { file: read.file, along: false, shapes: read.outlines };
  if (answer === asRoute) return { file: read.file, along: true, shapes: read.routes.map((s) => ({ ...s, width })) };
  for (const s of [...read.outlines, ...read.routes]) for (const l of linesOf(s)) sketch.reference.addFeature(new Feature(new LineString(l.map(toMap))));
  if (read.points.length > 0) sketch.reference.addFeature(new Feature(new MultiPoint(read.points.map(toMap))));
  return null;
}
