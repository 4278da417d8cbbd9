// The verdict on each pack with its findings; one that is of a place shows it on the map.
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Problem } from "../app/api";
import { problemText } from "../app/api";
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

/** Draws the verdicts into an element. */
export function drawVerdicts(into: HTMLElement, packs: Verdict[], highlight: Highlight): void {
  into.replaceChildren(...packs.flatMap((v) => verdictOf(v, packs.length > 1, highlight)));
}

function verdictOf(v: Verdict, named: boolean, highlight: Highlight): Node[] {
  const name = named ? [make("small", "", baseName(v.file))] : [];
  if (v.problem !== null) return [make("p", "verdict no", problemText(v.problem), ...name)];
  const fit = v.verdict === "fit";
  const head = make("p", `verdict ${fit ? "yes" : "no"}`, make("b", "", fit ? say("work.fit") : say("work.not_fit")), " ",
    say("work.pack_is", { held: v.tiles_held, wanted: v.tiles_wanted, size: sizeText(v.bytes), seal: v.seal || "–" }), ...name);
  const says = make("p", "dim", fit ? say("caution.always") : say("work.do_not_take"));
  const list = make("ul", "findings", ...rowsOf(v.findings, 0, first, highlight));
  const out: Node[] = [head, says];
  if (v.against !== "") out.push(make("p", "dim", say("work.not_against", { why: v.against })));
  out.push(list);
  const more = v.findings.length - first;
  if (more > 0) {
    const all = makeButton([say("work.all_findings", { n: more })], () => {
      list.append(...rowsOf(v.findings, first, v.findings.length, highlight));
      all.remove();
      list.querySelectorAll<HTMLElement>("li:not(.kind)")[first]?.querySelector("button")?.focus();
    });
    all.className = "quiet";
    out.push(all);
  }
  return out;
}

/** Some findings, those of one severity under a heading that counts all of them. */
function rowsOf(all: Finding[], from: number, to: number, highlight: Highlight): HTMLElement[] {
  return all.slice(from, to).flatMap((f, i) => {
    const row = rowOf(f, highlight);
    if (all[from + i - 1]?.severity === f.severity) return [row];
    const heading = make("li", "kind", severityText(f.severity, all.filter((o) => o.severity === f.severity).length));
    heading.classList.toggle("no", f.severity === "fault");
    return [heading, row];
  });
}

function rowOf(f: Finding, highlight: Highlight): HTMLElement {
  const words = [make("span", "", f.detail)];
  const at = f.bounds;
  if (at === null) return make("li", "finding", ...words);
  const b = makeButton([...words, make("small", "", say("work.show_place"))], () => highlight.box(at));
  b.className = "finding";
  return make("li", "", b);
}

function severityText(s: Finding["severity"], n: number): string {
  return s === "fault" ? say("work.faults", { n }) : s === "warning" ? say("work.warnings", { n }) : say("work.notes", { n });
}
