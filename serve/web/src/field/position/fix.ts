// What is known of where somebody is, and how it is said. Nothing here makes a
// position look better than it is.
import { roundedUpText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";

/** How a position came about; "phone" is this device's own, which does not say. */
export type FixKind =
  | "rtk-fixed" | "rtk-float" | "differential" | "autonomous" | "unknown"
  | "estimated" | "manual" | "simulator" | "phone";

/** One position. */
export interface Fix {
  lon: number;
  lat: number;
  kind: FixKind;
  /** from satellites or this phone, and not recorded: may be shown as where somebody is */
  live: boolean;
  recorded: boolean;
  /** radius in metres that holds 95 %, 0 when nothing tells */
  error: number;
  /** the receiver's own sigmas, the satellites' geometry (a rough estimate), or this phone's word; or why there is none */
  grounds: "gst" | "hdop" | "phone" | "old-corrections" | "implausible" | "";
  /** what the receiver states at 95 %, believed or not, in metres; null when not told, as is all that follows */
  stated: number | null;
  /** age of the corrections in seconds, and the number of their station */
  correction: number | null;
  station: string | null;
  /** the frame of corrected positions, as stated to the laptop */
  frame: string | null;
  /** how far NAD83 numbers lie from this map here, in metres */
  nad83: number | null;
  /** when it was true, in milliseconds since 1970 by this device's clock */
  at: number;
  /** in use, -1 when not told */
  satellites: number;
  hdop: number;
  /** the receiver's time with its day; "" when not told */
  time: string;
  /** its time of day, UTC */
  clock: string | null;
  /** how many seconds its time was ahead of the laptop's clock; null for a recording too */
  ahead: number | null;
}

/** Where somebody is, as far as it is known. */
export interface PositionState {
  /** the latest position, also when it is old */
  fix: Fix | null;
  /** why there is no present one, in words; "" when there is */
  trouble: string;
  /** the same without its cause, for the bar over the map; left out when `trouble` is short enough */
  short?: string;
}

/** After so long a position fades, and after so long it is hollow and without a circle: people walk on. */
export const fadeAfterMs = 5_000;
const staleAfterMs = 30_000;

/** A difference between clocks that is told, in seconds. */
const clockToleranceS = 10;

export type Freshness = "fresh" | "fading" | "old";

export function freshness(s: Fix, trouble: string, now: number): Freshness {
  const age = ageOf(s, now);
  if (age > staleAfterMs) return "old";
  return age > fadeAfterMs || trouble !== "" || doubts(s).length > 0 ? "fading" : "fresh";
}

/** Whether the receiver's time and the laptop's clock are so far apart that nobody knows when this was. */
export function clocksDisagree(s: Fix): boolean {
  return s.ahead !== null && !s.recorded && Math.abs(s.ahead) >= clockToleranceS;
}

/** Why a position does not read as one of now, in few words: "corrections 55 s old", "time 2 h behind". */
export function doubts(s: Fix): string[] {
  const all: string[] = [];
  if (s.grounds === "old-corrections" && s.correction !== null) all.push(say("position.corrections_old", { age: durationText(s.correction) }));
  if (clocksDisagree(s) && s.ahead !== null) {
    const span = durationText(s.ahead);
    all.push(s.ahead < 0 ? say("position.behind", { span }) : say("position.ahead", { span }));
  }
  return all;
}

/** How long ago a position came; "now" only of one whose own time agrees. */
export function whenText(s: Fix, now: number): string {
  const ago = agoText(ageOf(s, now));
  if (doubts(s).length === 0) return ago;
  return ago === say("position.ago_now") ? say("position.came_now") : say("position.came", { ago });
}

/** Whether a position rests on corrections, so that it is in the frame of their base. */
export function corrected(s: Fix): boolean {
  return s.kind === "rtk-fixed" || s.kind === "rtk-float" || s.kind === "differential";
}

/**
 * How many digits after the point a degree is told with: the last one is worth a
 * tenth of the error to all of it (1 m: five); five when no error is told.
 */
export function degreeDigits(error: number): number {
  if (error <= 0) return 5;
  return Math.min(8, Math.max(2, Math.ceil(5 - Math.log10(error) - 1e-9)));
}

/** Milliseconds; Infinity when it is not known, because the clock was set back since: it may be any. */
export function ageOf(s: Fix, now: number): number {
  return s.at - now > 1_000 ? Infinity : Math.max(0, now - s.at);
}

function kindText(k: FixKind): string {
  switch (k) {
    case "rtk-fixed": return say("position.rtk_fixed");
    case "rtk-float": return say("position.rtk_float");
    case "differential": return say("position.differential");
    case "autonomous": return say("position.autonomous");
    case "estimated": return say("position.estimated");
    case "manual": return say("position.manual");
    case "simulator": return say("position.simulator");
    case "phone": return say("position.own");
    default: return say("position.kind_unknown");
  }
}

/** What stands beside a dot that is not where somebody is; "" for one that may be. */
export function markerText(s: Fix): string {
  if (s.recorded) return say("position.mark_recorded");
  switch (s.kind) {
    case "simulator": return say("position.mark_simulated");
    case "manual": return say("position.mark_manual");
    case "estimated": return say("position.mark_estimated");
    case "unknown": return say("position.mark_unknown");
    default: return s.live ? "" : say("position.mark_not_live");
  }
}

/** The first words about a position. */
export function headText(s: Fix): string {
  const mark = markerText(s);
  if (s.recorded) return say("position.recorded", { kind: kindText(s.kind) });
  return mark === "" ? capitalize(kindText(s.kind)) : say("position.not_live", { kind: kindText(s.kind) });
}

/** With a capital letter. */
export function capitalize(text: string): string {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

/** How far off a position may be: "within 2.1 ft (95 %)". */
export function errorText(s: Fix, units: Units): string {
  if (s.grounds === "implausible") return say("position.implausible");
  if (s.error <= 0) return say("position.no_error");
  const error = roundedUpText(s.error, units);
  return s.grounds === "hdop" ? say("position.error_hdop", { error }) : say("position.error", { error });
}

/** Where the error comes from, in a sentence. */
export function groundsText(s: Fix, units: Units): string {
  switch (s.grounds) {
    case "old-corrections": return say("position.corrections_too_old");
    case "implausible": return say("position.implausible_why", { error: roundedUpText(s.stated ?? 0, units), kind: kindText(s.kind) });
    case "gst": return say("position.by_receiver");
    case "hdop": return say("position.by_hdop");
    case "phone": return say("position.by_phone");
    default: return say("position.by_nothing");
  }
}

/** An age: "now", "2 s ago", "4 min ago", "3 h ago". */
export function agoText(ms: number): string {
  if (!Number.isFinite(ms)) return say("position.ago_unknown");
  return ms < 1000 ? say("position.ago_now") : say("position.ago", { span: durationText(Math.floor(ms / 1000)) });
}

/** A year in seconds. */
const year = 365.25 * 86_400;

/** A time between two moments or two clocks, in whole units: "12 s", "3 h", "5 days", "19 years". */
export function durationText(seconds: number): string {
  const s = Math.abs(seconds);
  if (s < 100) return `${Math.floor(s)} s`;
  if (s < 6000) return `${Math.floor(s / 60)} min`;
  if (s < 172_800) return `${Math.floor(s / 3600)} h`;
  return s < 2 * year ? say("date.span_days", { n: Math.floor(s / 86_400) }) : say("date.span_years", { n: Math.floor(s / year) });
}
