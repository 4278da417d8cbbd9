// The verdict on a pack, as banner over the map and as badge. A pack that is not checked yet has a badge too.
import type { PackEntry, Verdict } from "../../shared/lib/api";
import { byId, make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { bannerTexts, unchecked, verdictShort } from "../../shared/sheets/verdicttext";
import type { Page, Sheet } from "../../shared/shell/sheet";
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

/** The badge of a verdict; null for fit. */
export function verdictBadge(v: Verdict, tag: "li" | "span"): HTMLElement | null {
  const words = verdictShort(v);
  return words === "" ? null : make(tag, v.state === "not fit" ? "badge bad" : "badge gap", words);
}

/** The badge of the version that replaced the open one on the server; null for none and for fit. */
function nextBadge(v: Verdict | null): HTMLElement | null {
  if (v === null || v.state === "fit") return null;
  if (v.state === "unchecked") return make("li", "badge gap", say("verdict.next_unchecked"));
  return make("li", "badge bad", say("verdict.next_short"));
}

/** Shows the verdict on the open pack as badge and banner; returns a function that gives the current one. */
export function showVerdict(entry: PackEntry, verdicts: Verdicts, sheet: Sheet): () => Verdict {
  let own: Verdict = unchecked;
  let next: Verdict | null = null;
  const page: Page = { title: say("verdict.title"), body: () => faults([own, next]) };
  const banner = makeBanner(() => sheet.open(page));
  const badges = make("ul", "verdicts");
  const write = () => {
    const latest = verdicts.of(entry.id);
    const same = entry.version === undefined || latest.version === undefined || latest.version === entry.version;
    if (same) own = latest;
    else next = latest;
    const texts = bannerTexts(own, next);
    if (banner.hidden !== (texts.length === 0) || banner.dataset.said !== texts.join("\n")) {
      banner.hidden = texts.length === 0;
      banner.dataset.said = texts.join("\n");
      banner.replaceChildren(...texts.map((t) => make("span", "said", t)), make("span", "see", say("verdict.see")));
    }
    const badge = verdictBadge(own, "li");
    badges.replaceChildren(...[badge, nextBadge(next)].filter((b) => b !== null));
    sheet.redrawPage(page);
  };
  byId("job").after(badges);
  verdicts.on(write);
  write();
  return () => own;
}

function makeBanner(open: () => void): HTMLButtonElement {
  const b = Object.assign(makeButton([], open), { id: "unfit" });
  b.hidden = true;
  const read = make("div", "", b); // read aloud when it appears
  read.setAttribute("role", "alert");
  byId("over").prepend(read);
  return b;
}

function faults(all: (Verdict | null)[]): Node[] {
  return all.flatMap((v) => {
    if (v?.state !== "not fit") return [];
    const rest = v.faults - v.first.length;
    return [
      make("p", "fixed", verdictShort(v)),
      make("ol", "cautions", ...v.first.map((f) => make("li", "", f))),
      ...(rest > 0 ? [make("p", "", say("verdict.more", { n: rest }))] : []),
    ];
  });
}
