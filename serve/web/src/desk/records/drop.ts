// Files that are dropped or chosen: sent once, and then named by what the server calls them.
import { UserError } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import type { Api } from "../app/api";

/** The endings of files that belong to a .shp of the same name. */
const sides = [".dbf", ".prj", ".shx", ".cpg"];

const endingOf = (name: string): string => /\.[^.]*$/.exec(name)?.[0].toLowerCase() ?? "";
const bareOf = (name: string): string => name.slice(0, name.length - endingOf(name).length).toLowerCase();

/** A field book is no file of records: it is brought home (../home). */
export const isBook = (f: File): boolean => endingOf(f.name) === ".fieldbook";

/** The files of a drop, each with those that belong to it. */
export function grouped(files: File[]): { file: File; beside: File[] }[] {
  const isSide = (f: File) => sides.includes(endingOf(f.name)) && files.some((o) => endingOf(o.name) === ".shp" && bareOf(o.name) === bareOf(f.name));
  return files.filter((f) => !isSide(f)).map((file) => ({
    file, beside: endingOf(file.name) === ".shp" ? files.filter((f) => isSide(f) && bareOf(f.name) === bareOf(file.name)) : [],
  }));
}

/** Sends a file with those beside it; gives what the server calls it. */
export async function send(api: Api, { file, beside }: { file: File; beside: File[] }): Promise<string> {
  if (file.size === 0) throw new UserError(say("record.empty_file", { file: file.name }));
  const { drop } = await api.send<{ drop: string }>(`/api/drop?name=${encodeURIComponent(file.name)}`, file);
  for (const side of beside) await api.send(`/api/drop?name=${encodeURIComponent(side.name)}&with=${drop}`, side);
  return drop;
}

/** The endings of files of records. */
const records = ".geojson,.json,.kml,.kmz,.gpx,.shp,.dbf,.prj,.shx,.cpg,.zip,.gpkg,.dxf,.wkt,.csv,.txt,.tsv";

/** Lets the person choose files with these endings. */
export function chooseFiles(endings = records): Promise<File[]> {
  return new Promise((done) => {
    const input = document.createElement("input");
    input.type = "file";
    input.multiple = true;
    input.accept = endings;
    input.addEventListener("change", () => done([...(input.files ?? [])]));
    input.addEventListener("cancel", () => done([]));
    input.click();
  });
}

/** Takes files that are dropped on an element. */
export function takeDrops(on: HTMLElement, taken: (files: File[]) => void): void {
  const carries = (e: DragEvent) => e.dataTransfer?.types.includes("Files") === true;
  on.addEventListener("dragover", (e) => {
    if (!carries(e)) return;
    e.preventDefault();
    on.classList.add("dropping");
  });
  on.addEventListener("dragleave", (e) => {
    if (!(e.relatedTarget instanceof Node) || !on.contains(e.relatedTarget)) on.classList.remove("dropping");
  });
  on.addEventListener("drop", (e) => {
    on.classList.remove("dropping");
    if (!carries(e)) return;
    e.preventDefault();
    taken([...(e.dataTransfer?.files ?? [])]);
  });
}
