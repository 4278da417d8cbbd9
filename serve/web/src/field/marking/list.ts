// The sheet about the marks of this phone: what is only here, why, and how it can be kept elsewhere.
import { make, makeButton } from "../../shared/lib/dom";
import { errorMessage, UserError } from "../../shared/lib/http";
import { localDay } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import type { Page } from "../../shared/shell/sheet";
import { parseEntry } from "./entry";
import { fileText, readFile, saveFile } from "./file";
import type { Mark } from "./fold";
import { titleOf, whereText, type Whereabouts } from "./marktext";
import type { Queue } from "./queue";
import type { Store } from "./store";

interface ListParts {
  pack: string;
  store: Store;
  queue: Queue;
  marks(): Mark[];
  markOf(id: string): Mark | undefined;
  whereOf(mark: Mark): Whereabouts;
  /** a mark in a few words */
  shortOf(mark: Mark): string;
  open(id: string): void;
  redraw(): void;
  writes(): boolean;
}

/** How many marks that are not only on this phone are listed. */
const mostListed = 50;

export function listPage(parts: ListParts): Page {
  let said = "";
  return { title: say("marking.list_title"), body: () => body(parts, said, (text) => {
    said = text;
    parts.redraw();
  }) };
}

/** The marks of which something is not confirmed. */
export function waitingMarks(queue: Queue): string[] {
  return [...new Set(queue.waiting().entries.flatMap((e) => parseEntry(e.text)?.mark ?? []))];
}

function body(parts: ListParts, said: string, told: (text: string) => void): Node[] {
  const { queue, store } = parts;
  const waiting = waitingMarks(queue);
  const { photos } = queue.waiting();
  const nodes: Node[] = [];
  nodes.push(make("p", waiting.length + photos.length > 0 ? "fixed" : "", waiting.length + photos.length === 0 ? say("marking.none_here") : say("marking.here_only", { n: waiting.length, photos: photos.length })));
  const why = troubleText(queue);
  if (why !== "" && waiting.length + photos.length > 0) nodes.push(make("p", "", why));
  if (store.kind !== "database") nodes.push(make("p", "fixed bad", storeText(store.kind)));
  nodes.push(make("p", "hint", say("marking.store_words")));
  if (said !== "") nodes.push(Object.assign(make("p", "fixed", said), { role: "status" }));
  nodes.push(list(parts, waiting));
  if (parts.writes()) nodes.push(...fileButtons(parts, told));
  const rest = parts.marks().filter((m) => !waiting.includes(m.id)).reverse();
  nodes.push(make("h3", "", say("marking.all_marks", { n: rest.length })), list(parts, rest.slice(0, mostListed).map((m) => m.id)));
  if (rest.length > mostListed) nodes.push(make("p", "hint", say("marking.list_more", { n: rest.length - mostListed })));
  return nodes;
}

/** Why nothing goes through. */
function storeText(kind: "small" | "held" | "none"): string {
  switch (kind) {
    case "small": return say("marking.store_small");
    case "held": return say("marking.store_held");
    case "none": return say("marking.store_none");
  }
}

export function troubleText(queue: Queue): string {
  const { why, words } = queue.trouble();
  switch (why) {
    case "away": return say("marking.trouble_away");
    case "join": return say("marking.trouble_join");
    case "look": return say("marking.trouble_look");
    case "full": return say("marking.trouble_full");
    case "refused": return say("marking.trouble_refused", { why: words });
    default: return "";
  }
}

function list({ markOf, whereOf, shortOf, open }: ListParts, ids: string[]): HTMLElement {
  return make("ul", "jobs", ...ids.flatMap((id) => {
    const mark = markOf(id);
    if (mark === undefined) return [];
    const struck = mark.struck === null ? [] : [make("span", "", say("marking.struck_short"))];
    return [make("li", "", makeButton([make("b", "", titleOf(mark)), ...struck, make("span", "", say("marking.kept_where", { what: shortOf(mark), where: whereText(whereOf(mark)) }))], () => open(id)))];
  }));
}

function fileButtons({ pack, store, queue }: ListParts, told: (text: string) => void): Node[] {
  const save = async () => {
    const { entries, photos } = queue.waiting();
    const kept = await Promise.all(photos.map((hash) => store.photo(hash)));
    saveFile(`${pack}-marks-${localDay(new Date())}.json`, fileText(pack, entries, kept.flatMap((p) => p ?? [])));
    told(say("marking.file_saved"));
  };
  const input = Object.assign(make("input", "unseen"), { type: "file", accept: ".json,application/json", id: "marks-file" });
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    if (file === undefined) return;
    file.text().then((text) => {
      const { entries, photos } = readFile(text, pack);
      return queue.takeIn(entries, photos);
    }).then((n) => told(say("marking.file_taken", { n })), (e: unknown) => told(e instanceof UserError ? errorMessage(e) : say("marking.full_here")));
  });
  return [
    Object.assign(makeButton([say("marking.save_file")], () => void save()), { className: "wide", id: "marks-save" }),
    make("label", "mark-photo wide", say("marking.take_file"), input),
  ];
}
