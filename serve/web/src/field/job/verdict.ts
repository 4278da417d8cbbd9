// The verdicts on packs, as the laptop sends them.
import type { PackEntry, Verdict } from "../../shared/lib/api";
import { make } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { unchecked, verdictShort } from "../../shared/sheets/verdicttext";
import type { Events } from "../live/events";

export interface Verdicts {
  /** The latest verdict on a pack; its `version` may differ from the open one. */
  of(id: string): Verdict;
  /** Takes the verdicts of a list of packs. */
  listed(packs: PackEntry[]): void;
  /** Runs `f` whenever a verdict may have changed. */
  on(f: () => void): void;
}

/** Holds the verdicts that the server sends. */
export function makeVerdicts(events: Events): Verdicts {
  const all = new Map<string, Verdict>();
  const listeners: (() => void)[] = [];
  const put = (entries: [string, Verdict][]) => {
    if (entries.every(([id, v]) => sameVerdict(all.get(id), v))) return;
    for (const [id, v] of entries) all.set(id, v);
    listeners.forEach((f) => f());
  };
  events.on("verdicts", (data) => put(Object.entries((data as { verdicts?: Record<string, Verdict> } | null)?.verdicts ?? {})));
  return {
    of: (id) => all.get(id) ?? unchecked,
    listed: (packs) => put(packs.map((p) => [p.id, { ...(p.verdict ?? unchecked), version: p.version ?? "" }])),
    on: (f) => void listeners.push(f),
  };
}

const sameVerdict = (a: Verdict | undefined, b: Verdict): boolean =>
  a?.state === b.state && a.version === b.version && a.faults === b.faults && a.first.join("\n") === b.first.join("\n");

/** The badge of a verdict in the list of jobs; null for fit. */
export function verdictBadge(v: Verdict): HTMLElement | null {
  const words = verdictShort(v);
  return words === "" ? null : make("span", v.state === "not fit" ? "badge bad" : "badge gap", words);
}

/** Follows the verdict on the open version of a pack, and on one that took its place. */
export function followVerdict(entry: PackEntry, verdicts: Verdicts, changed: (own: Verdict, next: Verdict | null) => void): () => Verdict {
  let own: Verdict = unchecked;
  let next: Verdict | null = null;
  const take = () => {
    const latest = verdicts.of(entry.id);
    const same = entry.version === undefined || latest.version === undefined || latest.version === entry.version;
    if (same) own = latest;
    else next = latest;
    changed(own, next);
  };
  verdicts.on(take);
  take();
  return () => own;
}

/** The faults of a verdict as a list; nothing for one without. */
export function faultList(v: Verdict | null): Node[] {
  if (v?.state !== "not fit" || v.first.length === 0) return [];
  const rest = v.faults - v.first.length;
  return [
    make("ol", "cautions", ...v.first.map((f) => make("li", "", f))),
    ...(rest > 0 ? [make("p", "", say("verdict.more", { n: rest }))] : []),
  ];
}
