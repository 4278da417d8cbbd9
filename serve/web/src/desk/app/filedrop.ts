// Files that are dropped on the map: who takes them is asked where more than one part can.
import { byId } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Desk } from "./desk";

interface Taker {
  answer: string;
  take(files: File[]): void;
}

const takers: Taker[] = [];

/** Takes files dropped on the map; `answer` is what the person chooses, such as "what is recorded". */
export function takeMapDrops(desk: Desk, answer: string, take: (files: File[]) => void): void {
  takers.push({ answer, take });
  if (takers.length > 1) return;
  takeDrops(byId("stage"), (files) => void choose(desk, files).catch(desk.fail));
}

async function choose(desk: Desk, files: File[]): Promise<void> {
  if (files.length === 0) return;
  const [first] = takers;
  if (takers.length === 1) return first?.take(files);
  const answer = await desk.ask(say("desk.dropped", { file: files.map((f) => f.name).join(", ") }), takers.map((t) => t.answer));
  takers.find((t) => t.answer === answer)?.take(files);
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
