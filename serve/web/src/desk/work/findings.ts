// The verdict on each pack with its findings; one that is of a place shows it on the map.
import { make, makeButton, setChildren, setText } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Problem } from "../app/api";
import { problemText } from "../app/api";
import { type Kept, makeKept } from "../app/kept";
import { sizeText } from "../app/text";
import type { Box, Highlight } from "./highlight";

interface Finding {
  kind: string;
  severity: "fault" | "warning" | "note";
  detail: string;
  bounds: Box | null;
}

/** What check says of a pack: GET /api/jobs/ID/findings. */
export interface Verdict {
  file: string;
  verdict: string;
  seal: string;
  tiles_held: number;
  tiles_wanted: number;
  bytes: number;
  counts: Record<string, number>;
  findings: Finding[];
  against: string;
  problem: Problem | null;
}

/** How many findings are shown before they are asked for. */
const first = 8;

export const baseName = (file: string): string => file.replace(/^.*[\\/]/, "");

interface Verdicts {
  /** Says a sentence instead of verdicts. */
  says(text: string): void;
  /** What is shown is of the job as it was: no verdict stands until the next is drawn. */
  checking(): void;
  draw(packs: Verdict[]): void;
}

/** What is proved of a pack, for the job as it is now. A pack that could not be held against the job is not called fit. */
export function proofOf(v: Verdict): "fit" | "faulty" | "unproved" {
  if (v.problem !== null || v.verdict !== "fit") return "faulty";
  return v.against === "" ? "fit" : "unproved";
}

/** The verdicts in an element; findings that are the same keep their rows. */
export function makeVerdicts(into: HTMLElement, highlight: Highlight): Verdicts {
  const [parts, rows] = [makeKept<Part>(), makeKept<HTMLElement>()];
  let last: Verdict[] = [];
  const draw = (packs: Verdict[]) => {
    last = packs;
    setChildren(into, packs.flatMap((v) => parts.of(v.file, () => makePart(rows, highlight, () => draw(last))).draw(v, packs.length > 1)));
    parts.done();
    rows.done();
  };
  return {
    draw,
    says(text) {
      setChildren(into, [make("p", "dim", text)]);
      parts.done(); // nothing is kept for another job
    },
    checking() {
      for (const p of into.querySelectorAll<HTMLElement>(".verdict")) {
        p.className = "verdict";
        p.replaceChildren(say("work.is_checked"));
      }
      for (const p of into.querySelectorAll(".means")) p.replaceChildren();
    },
  };
}

/** One pack's part of the panel. */
interface Part {
  draw(v: Verdict, named: boolean): Node[];
}

function makePart(rows: Kept<HTMLElement>, highlight: Highlight, again: () => void): Part {
  const [head, means, against, list] = [make("p", "verdict"), make("p", "dim means"), make("p", "dim"), make("ul", "findings")];
  let open = false;
  const more = makeButton([""], () => {
    open = true;
    again();
    list.querySelectorAll<HTMLElement>("li:not(.kind)")[first]?.querySelector("button")?.focus();
  });
  more.className = "quiet";
  return {
    draw(v, named) {
      const [name, proof] = [named ? [make("small", "", baseName(v.file))] : [], proofOf(v)];
      head.className = `verdict ${proof === "fit" ? "yes" : "no"}`;
      if (v.problem !== null) {
        head.replaceChildren(problemText(v.problem), ...name);
        return [head];
      }
      head.replaceChildren(make("b", "", proof === "fit" ? say("work.fit") : proof === "faulty" ? say("work.not_fit") : say("desk.unproved")), " ",
        say("work.pack_is", { held: v.tiles_held, wanted: v.tiles_wanted, size: sizeText(v.bytes), seal: v.seal || "–" }), ...name);
      setText(means, proof === "fit" ? say("caution.always") : proof === "faulty" ? say("work.do_not_take") : "");
      setText(against, v.against === "" ? "" : say("work.not_against", { why: v.against }));
      const rest = open ? 0 : Math.max(0, v.findings.length - first);
      setChildren(list, rowsOf(v, v.findings.length - rest, rows, highlight));
      setText(more, say("work.all_findings", { n: rest }));
      return [head, means, ...(v.against === "" ? [] : [against]), list, ...(rest > 0 ? [more] : [])];
    },
  };
}

/** The first findings of a pack, those of one severity under a heading that counts all of them. */
function rowsOf(v: Verdict, to: number, rows: Kept<HTMLElement>, highlight: Highlight): HTMLElement[] {
  return v.findings.slice(0, to).flatMap((f, i) => {
    const row = rows.of(JSON.stringify([v.file, f]), () => rowOf(f, highlight));
    if (v.findings[i - 1]?.severity === f.severity) return [row];
    const heading = make("li", "kind", severityText(f.severity, v.findings.filter((o) => o.severity === f.severity).length));
    heading.classList.toggle("no", f.severity === "fault");
    return [heading, row];
  });
}

function rowOf(f: Finding, highlight: Highlight): HTMLElement {
  const words = [make("span", /^\S+\.\w+:/.test(f.detail) ? "file" : "", f.detail)];
  const at = f.bounds;
  if (at === null) return make("li", "finding", ...words);
  const b = makeButton([...words, make("small", "", say("work.show_place"))], () => highlight.box(at));
  b.className = "finding";
  return make("li", "", b);
}

function severityText(s: Finding["severity"], n: number): string {
  return s === "fault" ? say("work.faults", { n }) : s === "warning" ? say("work.warnings", { n }) : say("work.notes", { n });
}
