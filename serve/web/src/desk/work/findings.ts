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
  const list = make("ul", "findings", ...v.findings.slice(0, first).map((f) => rowOf(f, highlight)));
  const out: Node[] = [head, says];
  if (v.against !== "") out.push(make("p", "dim", say("work.not_against", { why: v.against })));
  out.push(list);
  const more = v.findings.length - first;
  if (more > 0) {
    const all = makeButton([say("work.all_findings", { n: more })], () => {
      list.append(...v.findings.slice(first).map((f) => rowOf(f, highlight)));
      all.remove();
      list.querySelectorAll<HTMLElement>("button")[first]?.focus();
    });
    all.className = "quiet";
    out.push(all);
  }
  return out;
}

function rowOf(f: Finding, highlight: Highlight): HTMLElement {
  const words = [make("em", f.severity === "fault" ? "no" : "", severityText(f.severity)), make("span", "", f.detail)];
  const at = f.bounds;
  if (at === null) return make("li", "finding", ...words);
  const b = makeButton([...words, make("small", "", say("work.show_place"))], () => highlight.box(at));
  b.className = "finding";
  return make("li", "", b);
}

function severityText(s: Finding["severity"]): string {
  return s === "fault" ? say("work.fault") : s === "warning" ? say("work.warning") : say("work.note");
}
