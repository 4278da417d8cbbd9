// What was found at a place, as a list to choose from: records first, then what is worked out from them.
import type Feature from "ol/Feature";
import type { Coordinate } from "ol/coordinate";
import { toLonLat } from "ol/proj";
import { inverse, type LonLat } from "../coords/geodesic";
import { make, makeButton } from "../lib/dom";
import { lengthText, type Units } from "../lib/units";
import { say } from "../lib/words";
import type { Hit, RecordLayer } from "../records/layer";
import { derivedDetails, derivedLead, derivedOf, derivedSign, derivedTitle } from "./deriveddetails";
import { lineOf, recordDetails, titleOf } from "./recorddetails";
import { derivedTag, utilityTag } from "./section";

/** One thing that can be chosen. */
export interface Found {
  feature: Feature;
  /** whether it is a record, not worked out from one */
  recorded: boolean;
  /** whether a crew found it on site: no record of the pack */
  onSite?: boolean;
  tag(): Node;
  title: string;
  /** the title under the name of its utility */
  short: string;
  /** what the list tells of it, one thing each */
  words: string[];
  details(): HTMLElement;
  /** how far off its place may be, in meters, where that is known */
  off?: number;
}

/** A record that was found. */
export function foundRecord(hit: Hit, units: Units, now: Date): Found {
  const utility = hit.overlay.utility_name || say("details.no_utility");
  const short = titleOf(hit);
  return {
    feature: hit.feature, recorded: true, tag: () => utilityTag(hit.overlay),
    title: say("details.head", { utility, kind: short }), short, words: lineOf(hit, units, now), details: () => recordDetails(hit, units),
  };
}

/** A feature worked out from records. */
export function foundDerived(feature: Feature, records: RecordLayer[], units: Units, rule: string): Found {
  const { value, reference } = derivedLead(feature, units);
  const title = derivedTitle(feature);
  return {
    feature, recorded: false, tag: () => derivedTag(derivedSign(feature)), title, short: title,
    words: [derivedOf(feature, records), reference === "" ? value : say("lead.in_line", { value, reference })],
    details: () => derivedDetails(feature, records, units, rule),
  };
}

interface ListOptions {
  /** tells one thing more of each, "" for nothing */
  aside?: (one: Found) => string;
  /** the one that was chosen before: the focus returns to it */
  isLast?: ((one: Found) => boolean) | undefined;
  /** whether the utility is in the heading already */
  short?: boolean;
}

/** A list of what was found. */
export function foundList(all: Found[], choose: (one: Found) => void, { aside, isLast, short }: ListOptions = {}): HTMLElement {
  return make("ul", "found", ...all.map((one) => {
    const words = [...one.words, aside?.(one) ?? ""].filter((w) => w !== "").join(" · ");
    const button = makeButton([one.tag(), make("span", "what", make("b", "", short === true ? one.short : one.title), " ", words)], () => choose(one));
    if (isLast?.(one) === true) button.dataset.last = "";
    return make("li", "", button);
  }));
}

/** Gives the focus back to the last one chosen of a list that is shown again. */
export function focusLast(): void {
  document.querySelector<HTMLElement>("[data-last]")?.focus();
}

/** Nearer than this counts as at the tapped place, in meters: half an inch. */
const atTap = 0.0127;

/** What is all nearer than this is “here”, in meters: a foot. */
const here = 0.3048;

/** How far a feature lies from a place, as drawn, in meters; null for one whose shape is not known. */
function distanceTo(feature: Feature, place: Coordinate): number | null {
  const shape = feature.getGeometry();
  if (!shape) return null;
  return shape.intersectsCoordinate(place) ? 0 : inverse(toLonLat(place) as LonLat, toLonLat(shape.getClosestPoint(place)) as LonLat).metres;
}

/** How far one found lies from a tapped place in words, no finer than the screen's pixel, in meters, and its own place; "" for one whose shape is not known. */
export function distanceText({ feature, off }: Pick<Found, "feature" | "off">, place: Coordinate, units: Units, pixel: number): string {
  const metres = distanceTo(feature, place);
  if (metres === null) return "";
  const least = Math.max(atTap, pixel, off ?? 0);
  return metres < least ? say("found.at_tap") : say("found.from_tap", { length: lengthText(Math.round(metres / least) * least, units) });
}

/** The nearest first; those that are equally far, or whose shape is not known, in the order they had. */
export const nearestFirst = (all: Found[], place: Coordinate): Found[] =>
  all.map((one) => ({ one, away: distanceTo(one.feature, place) ?? 0 })).sort((a, b) => a.away - b.away).map(({ one }) => one);

/** The title of what was found at a place, what a crew found apart from records: “here” only where all are. */
export function foundTitle(all: Found[], count: number, place: Coordinate): string {
  const near = all.some((one) => (distanceTo(one.feature, place) ?? 0) > here);
  const found = all.filter((one) => one.onSite === true).length;
  const n = count - found;
  if (found === 0) return near ? say("here.records_near", { n }) : say("here.records", { n });
  if (n === 0) return near ? say("here.found_near", { n: found }) : say("here.found", { n: found });
  return near ? say("here.found_records_near", { found, n }) : say("here.found_records", { found, n });
}
