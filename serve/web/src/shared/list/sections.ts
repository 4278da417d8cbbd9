// The parts of the list of records: groups with their counts, shown in steps so that ten thousand
// records cost no more than a screen of them; and records that the laptop lists.
import type Feature from "ol/Feature";
import { make, makeButton } from "../lib/dom";
import { errorMessage } from "../lib/http";
import type { Units } from "../lib/units";
import { say } from "../lib/words";
import type { RecordLayer } from "../records/layer";
import { type Found, foundList, foundRecord } from "../sheets/found";
import { askLaptop } from "./laptopsearch";
import { countOf, type Group } from "./listing";

/** How many entries of a group are shown at first, and more at a time. */
const step = 60;

/** A count with a comma at the thousands. */
export const thousands = (n: number): string => n.toLocaleString("en");

/** What the sections need to show an entry. */
export interface Show {
  units: Units;
  now: Date;
  choose(one: Found): void;
  /** where a feature lies: in the dig area or around it */
  place(feature: Feature): string;
  /** how many entries of a group were shown before, by its key; kept while the page is open */
  shown: Map<string, number>;
  /** whether an entry was the last one chosen */
  isLast(one: Found): boolean;
}

/** A heading with groups under it, none without entries. */
export function groupSections(title: string, words: string, groups: Group[], show: Show): Node[] {
  if (groups.length === 0) return [];
  const section = make("section", "listed", make("h3", "", say("list.counted", { title, n: countOf(groups) })));
  for (const { utility, entries } of groups) {
    const some = (from: number, to: number) => foundList(entries.slice(from, to).map((e) => foundRecord(e.hit, show.units, show.now)), show.choose, { ...show, short: true });
    section.append(make("h4", "", say("list.counted", { title: utility, n: entries.length })), steps(entries.length, some, `${title}\n${utility}`, show));
  }
  if (words !== "") section.append(make("p", "", words));
  return [section];
}

/** What is worked out from the records, under a heading; nothing where there is none. */
export function workedOutSection(all: Found[], show: Show): Node[] {
  if (all.length === 0) return [];
  const title = say("layers.worked_out");
  const some = (from: number, to: number) => foundList(all.slice(from, to), show.choose, show);
  return [make("section", "listed", make("h3", "", say("list.counted", { title, n: all.length })), steps(all.length, some, title, show))];
}

/** A list of n entries in steps, each made when it is shown. */
function steps(n: number, some: (from: number, to: number) => HTMLElement, key: string, show: Show): Node {
  const box = make("div", "");
  const add = (from: number, to: number) => {
    const list = some(from, to);
    show.shown.set(key, to);
    const left = n - to;
    const first = list.querySelector("button");
    join(box, list);
    if (left > 0) box.append(moreButton(Math.min(step, left), left, () => add(to, to + step)));
    if (from > 0) first?.focus();
  };
  add(0, show.shown.get(key) ?? step);
  return box;
}

/** Adds a list's entries to the one that a box holds, in place of its button for more: one list, for whoever hears how long it is. */
function join(box: HTMLElement, list: HTMLElement): void {
  const before = box.querySelector("ul");
  childOf(box, "button")?.remove();
  if (before) before.append(...list.children);
  else box.append(list);
}

const childOf = (box: HTMLElement, tag: string) => [...box.children].find((c) => c.localName === tag);

function moreButton(n: number, left: number, press: () => void): HTMLElement {
  const b = makeButton([say("list.more", { n, left })], press);
  b.className = "more";
  return b;
}

/** What came of asking the laptop about one record. */
export interface Asked {
  layer: RecordLayer;
  matched: number;
  searched: number;
  /** why it could not be asked, "" if it could */
  fault: string;
}

/** A record of which the laptop has the words: listed by pages. With words it is asked at once. */
export function laptopSection(layer: RecordLayer, words: string, show: Show, asked: (result: Asked) => void): HTMLElement {
  const { title, features } = layer.overlay;
  const head = make("h4", "", say("list.counted", { title, n: thousands(features) }));
  const box = make("div", "");
  const ask = async (from: number) => {
    childOf(box, "button")?.setAttribute("disabled", "");
    try {
      const page = await askLaptop(layer, words, from);
      const list = foundList(page.hits.map((h) => foundRecord(h, show.units, show.now)), show.choose, { ...show, aside: (one) => show.place(one.feature) });
      const first = list.querySelector("button");
      childOf(box, "p")?.remove();
      join(box, list);
      const { next } = page;
      if (next !== null) box.append(makeMore(() => void ask(next)));
      if (from > 0 || words === "") first?.focus();
      else head.textContent = say("list.found_of", { title, n: thousands(page.matched), all: thousands(features) });
      asked({ layer, matched: page.matched, searched: page.searched, fault: "" });
    } catch (e) {
      const fault = errorMessage(e);
      box.replaceChildren(make("p", "", fault), makeMore(() => void ask(from), say("page.try_again")));
      asked({ layer, matched: 0, searched: 0, fault });
    }
  };
  if (words === "") box.append(makeMore(() => void ask(0), say("list.open")));
  else void ask(0);
  return make("div", "", head, box);
}

function makeMore(press: () => void, words = say("list.next")): HTMLElement {
  const b = makeButton([words], press);
  b.className = "more";
  return b;
}
