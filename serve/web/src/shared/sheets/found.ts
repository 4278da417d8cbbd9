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
  tag(): Node;
  title: string;
  /** what the list tells of it, one thing each */
  words: string[];
  details(): HTMLElement;
}

/** A record that was found. */
export function foundRecord(hit: Hit, units: Units, now: Date): Found {
  const utility = hit.overlay.utility_name || say("details.no_utility");
  return {
    feature: hit.feature, recorded: true, tag: () => utilityTag(hit.overlay),
    title: say("details.head", { utility, kind: titleOf(hit) }), words: lineOf(hit, units, now), details: () => recordDetails(hit, units),
  };
}

/** A feature worked out from records. */
export function foundDerived(feature: Feature, records: RecordLayer[], units: Units, rule: string): Found {
  const { value, reference } = derivedLead(feature, units);
  return {
    feature, recorded: false, tag: () => derivedTag(derivedSign(feature)), title: derivedTitle(feature),
    words: [derivedOf(feature, records), reference === "" ? value : say("lead.in_line", { value, reference })],
    details: () => derivedDetails(feature, records, units, rule),
  };
}

/** A list of what was found; `aside` tells one thing more of each, "" for nothing. */
export function foundList(all: Found[], choose: (one: Found) => void, aside: (one: Found) => string = () => ""): HTMLElement {
  return make("ul", "found", ...all.map((one) => {
    const words = [...one.words, aside(one)].filter((w) => w !== "").join(" · ");
    return make("li", "", makeButton([one.tag(), make("span", "what", make("b", "", one.title), " ", words)], () => choose(one)));
  }));
}

/** Nearer than this counts as at the tapped place, in meters: half an inch. */
const atTap = 0.0127;

/** How far a feature lies from a tapped place, as drawn; "" for one whose shape is not known here. */
export function distanceText(feature: Feature, place: Coordinate, units: Units): string {
  const shape = feature.getGeometry();
  if (!shape) return "";
  if (shape.intersectsCoordinate(place)) return say("found.at_tap");
  const { metres } = inverse(toLonLat(place) as LonLat, toLonLat(shape.getClosestPoint(place)) as LonLat);
  return metres < atTap ? say("found.at_tap") : say("found.from_tap", { length: lengthText(metres, units) });
}
