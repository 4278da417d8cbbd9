// The sheet of a mark: what it says, where it is kept, its history and its photos; changing, striking, restoring.
import { make, makeButton, setText } from "../../shared/lib/dom";
import type { Utility } from "../../shared/lib/api";
import type { Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { boundedText } from "../../shared/records/record";
import { detailsSection } from "../../shared/sheets/section";
import { tagOf } from "./choices";
import type { Mark } from "./fold";
import { historyText, leadOf, rowsOf, titleOf, whereText, type Whereabouts } from "./marktext";

export interface MarkSheetParts {
  units: Units;
  utilityOf(code: string): Utility;
  markOf(id: string): Mark | undefined;
  whereOf(mark: Mark): Whereabouts;
  /** whether this phone may write */
  writes(): boolean;
  edit(mark: Mark): void;
  strike(mark: Mark): void;
  restore(mark: Mark): void;
  /** the address of a photo, of this phone or the laptop; null where neither has it */
  photo(hash: string): Promise<string | null>;
}

/** All of a mark, for a sheet. It stays true while it is shown: `refreshMarkSheets` runs after changes. */
export function markDetails(id: string, parts: MarkSheetParts): HTMLElement {
  const box = make("div", "mark-sheet");
  box.dataset.mark = id;
  fill(box, parts);
  return box;
}

/** Draws the sheets of marks that are shown anew, where something has changed. */
export function refreshMarkSheets(parts: MarkSheetParts): void {
  for (const box of document.querySelectorAll<HTMLElement>(".mark-sheet")) {
    if (box.dataset.shown !== shownOf(parts.markOf(box.dataset.mark ?? ""), parts)) fill(box, parts);
  }
}

const shownOf = (mark: Mark | undefined, parts: MarkSheetParts): string =>
  (mark === undefined ? "" : JSON.stringify([mark.history.map((k) => [k.entry.id, k.number, k.refused]), parts.whereOf(mark), parts.writes()]));

function fill(box: HTMLElement, parts: MarkSheetParts): void {
  const mark = parts.markOf(box.dataset.mark ?? "");
  box.dataset.shown = shownOf(mark, parts);
  if (mark === undefined) return box.replaceChildren(make("p", "", say("marking.gone")));
  const { units } = parts;
  const now = new Date();
  const utility = parts.utilityOf(boundedText(mark.feature.properties.utility));
  const told: Node[] = [];
  const where = make("p", "mark-where", whereText(parts.whereOf(mark)));
  where.dataset.where = parts.whereOf(mark);
  told.push(where);
  for (const k of mark.history) if (k.refused !== undefined) told.push(make("p", "fixed bad", say("marking.refused_why", { why: boundedText(k.refused) })));
  if (mark.struck !== null) told.push(make("p", "fixed bad", say("marking.struck", { who: boundedText(mark.struck.entry.who) || say("marking.nobody"), why: boundedText(mark.struck.entry.why) })));
  if (mark.rivals.length > 0) told.push(make("p", "fixed", say("marking.rivals", { n: mark.rivals.length })));
  const section = detailsSection(
    { tag: tagOf(utility), title: say("details.head", { utility: utility.utility_name, kind: titleOf(mark) }), small: say("marking.found_on_site") },
    leadOf(mark, units, now), rowsOf(mark, units, now));
  section.prepend(...told);
  box.replaceChildren(section, photos(mark, parts), ...buttons(mark, parts), history(mark, units, now));
}

function buttons(mark: Mark, parts: MarkSheetParts): Node[] {
  if (!parts.writes()) return [];
  const all = mark.struck === null
    ? [makeButton([say("marking.edit")], () => parts.edit(mark)), makeButton([say("marking.strike")], () => parts.strike(mark))]
    : [makeButton([say("marking.restore")], () => parts.restore(mark))];
  return [make("div", "tie-buttons mark-buttons", ...all)];
}

function history(mark: Mark, units: Units, now: Date): HTMLElement {
  const rivals = new Set(mark.rivals);
  return make("details", "mark-history", make("summary", "", say("marking.history", { n: mark.history.length })),
    make("ol", "cautions", ...mark.history.map((k) => make("li", "", historyText(k, units, now),
      ...(rivals.has(k) ? [make("b", "", ` ${say("marking.history_rival")}`)] : []), ...(k.number === null ? [make("b", "", ` ${say("marking.only_here")}.`)] : [])))));
}

/** The photos; one that has not come to the laptop yet is seen on the phone that took it. */
function photos(mark: Mark, parts: MarkSheetParts): HTMLElement {
  const list = make("div", "mark-photos");
  const all = mark.feature.properties.photos;
  for (const [i, p] of (Array.isArray(all) ? all : []).slice(0, 20).entries()) {
    const image = Object.assign(make("img", ""), { alt: say("marking.photo_n", { n: i + 1 }), loading: "lazy" });
    const missing = make("p", "hint", "");
    list.append(make("figure", "", image, missing));
    image.hidden = true;
    void parts.photo(boundedText(p.hash)).then((url) => {
      if (url === null) return setText(missing, say("marking.photo_elsewhere"));
      image.onload = () => {
        image.hidden = false;
        if (url.startsWith("blob:")) URL.revokeObjectURL(url);
      };
      image.onerror = () => setText(missing, say("marking.photo_elsewhere"));
      image.src = url;
    });
  }
  return list;
}
