// Whether a pack was found fit: at the top of the map, in the head of the page, in
// the list of jobs and in Layers. What is not checked yet is never passed over.
import type { PackEntry, Verdict } from "../../shared/lib/api";
import { byId, make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import { bannerTexts, unchecked, verdictShort } from "../../shared/sheets/verdicttext";
import type { Page, Sheet } from "../../shared/shell/sheet";
import type { Events } from "../live/events";

export interface Verdicts {
  /** The latest verdict on what the laptop serves under an id; `version` says on which version. */
  of(id: string): Verdict;
  /** Takes in what a list of packs says. */
  listed(packs: PackEntry[]): void;
  /** Has `f` called whenever one may have changed. */
  on(f: () => void): void;
}

/** Keeps the verdicts as the laptop tells them. */
export function makeVerdicts(events: Events): Verdicts {
  const all = new Map<string, Verdict>();
  const told: (() => void)[] = [];
  const put = (entries: [string, Verdict][]) => {
    for (const [id, v] of entries) all.set(id, v);
    told.forEach((f) => f());
  };
  events.on("verdicts", (data) => put(Object.entries((data as { verdicts?: Record<string, Verdict> } | null)?.verdicts ?? {})));
  return {
    of: (id) => all.get(id) ?? unchecked,
    listed: (packs) => put(packs.map((p) => [p.id, { ...(p.verdict ?? unchecked), version: p.version ?? "" }])),
    on: (f) => void told.push(f),
  };
}

/** The badge of a verdict; null for fit. */
export function verdictBadge(v: Verdict, tag: "li" | "span"): HTMLElement | null {
  const words = verdictShort(v);
  return words === "" ? null : make(tag, v.state === "not fit" ? "badge bad" : "badge gap", words);
}

/** The badge of the pack that took the place of the open one on the laptop; null for none and for fit. */
function nextBadge(v: Verdict | null): HTMLElement | null {
  if (v === null || v.state === "fit") return null;
  if (v.state === "unchecked") return make("li", "badge gap", say("verdict.next_unchecked"));
  return make("li", "badge bad", say("verdict.next_short"));
}

/** Shows the verdict on the open pack in the head and over the map; gives what it is now. */
export function showVerdict(entry: PackEntry, verdicts: Verdicts, sheet: Sheet): () => Verdict {
  let own: Verdict = unchecked;
  let next: Verdict | null = null;
  const banner = makeBanner(() => sheet.open(page));
  const badges = make("ul", "verdicts");
  const page: Page = { title: say("verdict.title"), body: () => faults([own, next]) };
  const write = () => {
    const told = verdicts.of(entry.id);
    const same = entry.version === undefined || told.version === undefined || told.version === entry.version;
    if (same) own = told;
    else next = told;
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
  const read = make("div", "", b); // read aloud when it comes
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
