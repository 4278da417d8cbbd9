// What is said of a mark: what it is, how sure, where it is kept, and what happened to it. All of it was typed by somebody, so
// every text is bounded, and set as text.
import type { Utility } from "../../shared/lib/api";
import { dateText } from "../../shared/lib/dates";
import { depthText, frequencyText, roundedUpText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { boundedText } from "../../shared/records/record";
import { levelText } from "../../shared/records/symbology";
import type { Lead } from "../../shared/sheets/lead";
import { spanText } from "../live/clock";
import { capitalize, durationText, fadeAfterMs, staleAfterMs } from "../position/fix";
import { kindTitle, referenceShort } from "./choices";
import { hasDepth } from "./draft";
import { kinds, type MarkProperties, type Placing } from "./entry";
import type { Known, Mark } from "./fold";
import { methodOf } from "./methods";

/** Where a mark is kept, the farthest first. */
export type Whereabouts = "office" | "hotspot" | "here" | "refused";

export function whereabouts(mark: Mark, atOffice: boolean): Whereabouts {
  if (mark.history.some((k) => k.refused !== undefined)) return "refused";
  if (mark.history.some((k) => k.number === null)) return "here";
  return atOffice ? "office" : "hotspot";
}

export function whereText(where: Whereabouts): string {
  switch (where) {
    case "office": return say("marking.at_office");
    case "hotspot": return say("marking.on_hotspot");
    case "here": return say("marking.only_here");
    case "refused": return say("marking.refused_short");
  }
}

/** What a mark is: "Reading S4". */
export function titleOf({ feature: { properties: p } }: Mark): string {
  const kind = kinds.includes(p.kind) ? kindTitle(p.kind) : boundedText(p.kind);
  const label = boundedText(p.label);
  return label === "" ? kind : say("found.named", { kind, label });
}

/** A mark in a few words: "Water 3′ 4″ to center". */
export function shortText({ feature: { properties: p } }: Mark, utility: Utility, units: Units): string {
  const depth = num(p.depth_m);
  const deep = depth === null ? say("marking.kept_no_depth") : say("lead.in_line", { value: depthText(depth, units), reference: referenceShort(boundedText(p.depth_reference)) });
  const kind = p.kind === "reading" && depth !== null ? "" : kindTitle(p.kind).toLowerCase();
  return [capitalize(utility.utility), kind, hasDepth(p.kind) ? deep : ""].filter((t) => t !== "").join(" ");
}

/** A mark that was just kept, and where it is by now: "Water 3′ 4″ to center · on this phone". */
export function keptText(mark: Mark, utility: Utility, where: Whereabouts, units: Units): string {
  const it = where === "here" ? say("marking.kept_here") : where === "refused" ? say("marking.refused_short") : say("marking.kept_hotspot");
  return say("marking.kept_where", { what: shortText(mark, utility, units), where: it });
}

const num = (v: unknown): number | null => (typeof v === "number" && Number.isFinite(v) ? v : null);

/** What leads: the depth with its limits, or that there is none. */
export function leadOf(mark: Mark, units: Units, now: Date): Lead {
  const p = mark.feature.properties;
  const depth = num(p.depth_m);
  const known = [say("marking.made", { who: boundedText(mark.leading.entry.who) || say("marking.nobody"), when: dateText(boundedText(mark.leading.entry.clock), now) })];
  known.push(placeText(p.position, units));
  if (p.kind !== "nothing found" && p.kind !== "unlocatable") known.push(levelText(boundedText(p.quality_level)));
  switch (p.kind) {
    case "nothing found": return { value: say("marking.kind_nothing"), reference: "", known, caution: say("marking.nothing_caution") };
    case "unlocatable": return { value: say("marking.kind_unlocatable"), reference: boundedText(p.reason), known, caution: say("marking.unlocatable_caution") };
    case "reading": case "test hole": break;
    default: return { value: kindTitle(p.kind), reference: "", known, caution: say("marking.place_caution") };
  }
  if (depth === null) return { value: say("lead.no_depth"), reference: "", known, caution: say("marking.place_caution") };
  const caution = p.kind === "test hole" ? say("marking.hole_caution") : say("marking.depth_caution");
  return { value: depthText(depth, units), reference: referenceText(boundedText(p.depth_reference)), known, caution };
}

/** What a depth was measured to. */
function referenceText(reference: string): string {
  switch (reference) {
    case "center": return say("marking.to_center_long");
    case "top": return say("marking.to_top_long");
    case "bottom": return say("marking.to_bottom_long");
    default: return say("lead.to_unknown");
  }
}

/** How the place came about, and how far off it may be; never better than the worst that is known of it, and not known for a
 * position of another time or place. */
function placeText(position: Placing | undefined, units: Units): string {
  switch (position?.from) {
    case "receiver": return fromReceiver(position, units);
    case "cross": return say("marking.from_cross");
    case "typed": return say("marking.from_typed");
    default: return say("marking.from_unknown");
  }
}

/** How old a position was when its mark was kept, in milliseconds. */
const ageThen = (p: Placing): number => (p.age_s === null ? Infinity : (num(p.age_s) ?? 0) * 1000);

/** Whether a receiver's position says nothing of where the mark was made; as the laptop judges (pack/fieldbook/overlay.go). */
const elsewhere = (p: Placing): boolean =>
  p.recorded === true || ageThen(p) > staleAfterMs || ["estimated", "manual", "simulator", "unknown"].includes(boundedText(p.kind));

/** How far off a mark may be, in meters: the worst that is known of its position; null where nothing is that holds of its place. */
export function errorOf(p: Placing | undefined): number | null {
  if (p?.from !== "receiver" || elsewhere(p) || num(p.error_m) === null) return null;
  return Math.max(...[p.error_m, p.stated_m, p.spread_m].flatMap((v) => num(v) ?? []));
}

function fromReceiver(p: Placing, units: Units): string {
  const [age, off] = [ageThen(p), errorOf(p)];
  const error = elsewhere(p) ? say("marking.off_unknown") : off === null ? say("marking.error_unknown") : say("marking.error_within", { length: roundedUpText(off, units) });
  if (p.recorded === true) return say("marking.from_recorded", { error });
  return age > fadeAfterMs ? say("marking.from_last", { age: ageText(age), error }) : say("marking.from_receiver", { error });
}

const ageText = (ms: number): string => (Number.isFinite(ms) ? say("marking.position_aged", { span: durationText(ms / 1000) }) : say("marking.position_age_unknown"));

/** The other facts of a mark as rows. */
export function rowsOf(mark: Mark, units: Units, now: Date): [string, string][] {
  const p: MarkProperties = mark.feature.properties;
  const rows: [string, string][] = [];
  const add = (name: string, value: string) => {
    if (value !== "") rows.push([name, value]);
  };
  add(say("marking.typed_row"), boundedText(p.depth_as_typed));
  add(say("marking.method_row"), methodOf(boundedText(p.method))?.title ?? boundedText(p.method));
  const [hertz, current] = [num(p.frequency_hz), num(p.current_ma)];
  add(say("details.frequency"), hertz === null ? "" : frequencyText(hertz));
  add(say("details.current"), current === null ? "" : `${current.toLocaleString("en")} mA`);
  add(say("details.owner"), boundedText(p.owner));
  add(say("details.note"), boundedText(p.note));
  const at = p.position;
  if (at?.from === "receiver") {
    add(say("position.how"), boundedText(at.kind));
    add(say("position.satellites"), boundedText(at.satellites));
    add(say("position.corrections_row"), num(at.corrections_s) === null ? "" : say("marking.seconds_old", { n: num(at.corrections_s) ?? 0 }));
    add(say("marking.averaged_row"), num(at.averaged_n) === null ? "" : say("marking.averaged_words", { n: num(at.averaged_n) ?? 0, s: num(at.averaged_s) ?? 0, spread: roundedUpText(Math.max(0.001, num(at.spread_m) ?? 0), units) }));
    add(say("position.time"), boundedText(at.receiver_time) === "" ? "" : dateText(boundedText(at.receiver_time), now));
    add(say("position.frame"), boundedText(at.frame));
  }
  const ahead = num(mark.leading.entry.clock_ahead_s);
  if (ahead !== null && Math.abs(ahead) > 120) add(say("position.clocks"), clockText(ahead));
  return rows;
}

const clockText = (ahead: number): string => (ahead > 0 ? say("marking.clock_ahead", { span: spanText(ahead * 1000) }) : say("marking.clock_behind", { span: spanText(-ahead * 1000) }));

/** One entry of the history. */
export function historyText(k: Known, units: Units, now: Date): string {
  const e = k.entry;
  const [who, when] = [boundedText(e.who) || say("marking.nobody"), dateText(boundedText(e.clock), now)];
  const depth = num(e.feature?.properties.depth_m);
  const what = depth === null ? "" : say("marking.history_depth", { depth: depthText(depth, units) });
  switch (e.action) {
    case "write": return (e.after.length === 0 ? say("marking.history_made", { who, when }) : say("marking.history_changed", { who, when })) + what;
    case "strike": return say("marking.history_struck", { who, when, why: boundedText(e.why) });
    case "restore": return say("marking.history_restored", { who, when, why: boundedText(e.why) });
  }
}
