// One section of details: what it is, the value that leads with its limits, and the other facts as rows.
import type { Overlay } from "../lib/api";
import { definitionList, make } from "../lib/dom";
import { coloursOf } from "../records/symbology";
import type { Lead } from "./lead";
import "./details.css";

/** The head of a section: a tag, what it is, and of what. */
interface Head {
  tag: Node;
  title: string;
  small: string;
}

export function detailsSection(head: Head, lead: Lead, rows: [string, string][]): HTMLElement {
  const parts: Node[] = [
    make("div", "head", head.tag, make("h3", "", head.title, ...(head.small === "" ? [] : [make("small", "", head.small)]))),
    make("p", "lead", make("b", "", lead.value), ...(lead.reference === "" ? [] : [" ", make("span", "", lead.reference)])),
  ];
  if (lead.known.length > 0) parts.push(make("ul", "known", ...lead.known.map((k) => make("li", "", k))));
  if (lead.caution !== "") parts.push(make("p", "limit", lead.caution));
  return make("section", "hit", ...parts, definitionList(rows));
}

/** The letter of a utility on its color. */
export function utilityTag(o: Overlay | undefined): HTMLElement {
  const tag = make("span", "tag", o?.letter || "?");
  tag.ariaHidden = "true"; // the utility is named in words
  if (o === undefined) return tag;
  const { colour, casing } = coloursOf(o);
  tag.style.background = colour;
  tag.style.color = casing;
  return tag;
}

/** The tag of what is worked out from records: a number, or a sign. */
export function derivedTag(sign: string): HTMLElement {
  const tag = make("span", "tag derived", sign);
  tag.ariaHidden = "true";
  return tag;
}
