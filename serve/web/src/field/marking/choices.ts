// Sheets in which one of several things is chosen, with rows large enough for a glove.
import type { Utility } from "../../shared/lib/api";
import { make, makeButton } from "../../shared/lib/dom";
import { say } from "../../shared/lib/words";
import type { Page, Sheet } from "../../shared/shell/sheet";
import { type Kind, kinds } from "./entry";
import { methods } from "./methods";

/** One that can be chosen. */
interface Choice<T> {
  value: T;
  title: string;
  words?: string;
  tag?: HTMLElement;
}

/** Opens a sheet to choose from; `chosen` runs once, when it has closed. */
export function choose<T>(sheet: Sheet, title: string, all: Choice<T>[], now: T, chosen: (value: T) => void): void {
  const page: Page = {
    title,
    body: () => [make("ul", "mark-choices", ...all.map((c) => {
      const b = makeButton([...(c.tag ? [c.tag] : []), make("span", "", make("b", "", c.title), ...(c.words ? [make("span", "", c.words)] : []))], () => {
        sheet.close();
        chosen(c.value);
      });
      b.setAttribute("aria-pressed", String(c.value === now));
      return make("li", "", b);
    }))],
  };
  sheet.open(page);
  sheet.full();
}

/** A utility's letter on its color. */
export function tagOf(u: Utility): HTMLElement {
  const tag = make("span", "tag", u.letter);
  tag.setAttribute("aria-hidden", "true");
  tag.style.background = u.colour;
  tag.style.color = u.casing;
  return tag;
}

export const utilityChoices = (all: Utility[]): Choice<string>[] =>
  all.map((u) => ({ value: u.utility, title: u.utility_name, tag: tagOf(u) }));

export const methodChoices = (): Choice<string>[] =>
  methods().map((m) => ({ value: m.code, title: m.title, words: say("marking.level_best", { level: m.best }) }));

/** What a depth may be measured to. */
export const referenceChoices = (): Choice<string>[] => [
  { value: "center", title: say("marking.to_center"), words: say("marking.to_center_words") },
  { value: "top", title: say("marking.to_top") },
  { value: "bottom", title: say("marking.to_bottom") },
  { value: "", title: say("marking.to_unknown") },
];

/** The short words of a reference. */
export function referenceShort(reference: string): string {
  switch (reference) {
    case "center": return say("marking.to_center_short");
    case "top": return say("marking.to_top_short");
    case "bottom": return say("marking.to_bottom_short");
    default: return say("marking.to_unknown_short");
  }
}

export function kindTitle(kind: Kind): string {
  switch (kind) {
    case "reading": return say("marking.kind_reading");
    case "line": return say("marking.kind_line");
    case "area": return say("marking.kind_area");
    case "test hole": return say("marking.kind_test_hole");
    case "surface feature": return say("marking.kind_surface");
    case "nothing found": return say("marking.kind_nothing");
    case "unlocatable": return say("marking.kind_unlocatable");
  }
}

function kindWords(kind: Kind): string {
  switch (kind) {
    case "reading": return say("marking.kind_reading_words");
    case "line": return say("marking.kind_line_words");
    case "area": return say("marking.kind_area_words");
    case "test hole": return say("marking.kind_test_hole_words");
    case "surface feature": return say("marking.kind_surface_words");
    case "nothing found": return say("marking.kind_nothing_words");
    case "unlocatable": return say("marking.kind_unlocatable_words");
  }
}

/** What a surface feature may be, as it stands in its label; "" for what is typed. */
export const surfaceChoices = (): Choice<string>[] => [
  ...[say("marking.surface_valve"), say("marking.surface_manhole"), say("marking.surface_hydrant"), say("marking.surface_marker"), say("marking.surface_meter"), say("marking.surface_pedestal")]
    .map((title) => ({ value: title.toLowerCase(), title })),
  { value: "", title: say("marking.surface_other"), words: say("marking.surface_other_words") },
];

export const kindChoices = (): Choice<Kind>[] => kinds.map((k) => ({ value: k, title: kindTitle(k), words: kindWords(k) }));
