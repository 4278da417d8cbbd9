// A position fix and its text, which never makes a fix look better than it is.
import { roundedUpText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";

/** The kind of a fix; "phone" is this device's own, of unknown kind. */
export type FixKind =
  | "rtk-fixed" | "rtk-float" | "differential" | "autonomous" | "unknown"
  | "estimated" | "manual" | "simulator" | "phone";

/** A position fix. null means not stated. */
export interface Fix {
  lon: number;
  lat: number;
  kind: FixKind;
  /** from satellites or this phone, and not recorded: may be shown as the user's position */
  live: boolean;
  recorded: boolean;
  /** 95 % radius in meters, 0 when unknown */
  error: number;
  /** the source of the error: the receiver's sigmas, satellite geometry (a rough estimate), this phone; or why there is none */
  grounds: "gst" | "hdop" | "phone" | "old-corrections" | "implausible" | "";
  /** the receiver's own 95 % radius in meters, plausible or not */
  stated: number | null;
  /** the age of corrections in seconds, and the ID of their station */
  correction: number | null;
  station: string | null;
  /** the reference frame of corrected fixes, as configured on the laptop */
  frame: string | null;
  /** the shift between NAD83 and this map here, in meters */
  nad83: number | null;
  /** the time of the fix by this device's clock, in milliseconds since 1970 */
  at: number;
  /** satellites in use, -1 when not stated */
  satellites: number;
  hdop: number;
  /** the receiver's date and time; "" when not stated */
  time: string;
  /** the receiver's time of day, UTC */
  clock: string | null;
  /** the receiver's time minus the laptop's clock, in seconds; null for a recording too */
  ahead: number | null;
}

/** The user's position, as far as it is known. */
export interface PositionState {
  /** the latest fix, however old */
  fix: Fix | null;
  /** why there is no current fix; "" when there is one */
  trouble: string;
  /** the same without its cause, for the bar; absent when `trouble` is short */
  short?: string;
}

/** The ages at which a marker fades, and at which it becomes hollow and loses its circle, because people walk on. */
export const fadeAfterMs = 5_000;
export const staleAfterMs = 30_000;
/** The difference between clocks that is shown, in seconds. */
const clockToleranceS = 10;

export type Freshness = "fresh" | "fading" | "old";

export function freshness(s: Fix, trouble: string, now: number): Freshness {
  const age = ageOf(s, now);
  if (age > staleAfterMs) return "old";
  return age > fadeAfterMs || trouble !== "" || doubts(s).length > 0 ? "fading" : "fresh";
}

/** Whether the receiver's time and the laptop's clock differ so much that the time of a fix is uncertain. */
export function clocksDisagree(s: Fix): boolean {
  return s.ahead !== null && !s.recorded && Math.abs(s.ahead) >= clockToleranceS;
}

/** Why a fix does not count as current: "corrections 55 s old", "time 2 h behind". */
export function doubts(s: Fix): string[] {
  const all: string[] = [];
  if (s.grounds === "old-corrections" && s.correction !== null) all.push(say("position.corrections_old", { age: durationText(s.correction) }));
  if (clocksDisagree(s) && s.ahead !== null) {
    const span = durationText(s.ahead);
    all.push(s.ahead < 0 ? say("position.behind", { span }) : say("position.ahead", { span }));
  }
  return all;
}

/** The age of a fix; "now" only if its own time agrees. */
export function whenText(s: Fix, now: number): string {
  const ago = agoText(ageOf(s, now));
  if (doubts(s).length === 0) return ago;
  return ago === say("position.ago_now") ? say("position.came_now") : say("position.came", { ago });
}

/** Whether a fix uses corrections, which puts it in the reference frame of their base station. */
export function corrected(s: Fix): boolean {
  return s.kind === "rtk-fixed" || s.kind === "rtk-float" || s.kind === "differential";
}

/** The decimals of a degree that an error in meters justifies, the last worth a tenth of it up to all of it (1 m: 5); 5 if unknown. */
export function degreeDigits(error: number): number {
  if (error <= 0) return 5;
  return Math.min(8, Math.max(2, Math.ceil(5 - Math.log10(error) - 1e-9)));
}

/** The age of a fix in milliseconds; Infinity when unknown because the clock was set back. */
export function ageOf(s: Fix, now: number): number {
  return s.at - now > 1_000 ? Infinity : Math.max(0, now - s.at);
}

const kindTexts: Record<FixKind, string> = {
  "rtk-fixed": say("position.rtk_fixed"), "rtk-float": say("position.rtk_float"), differential: say("position.differential"),
  autonomous: say("position.autonomous"), estimated: say("position.estimated"), manual: say("position.manual"),
  simulator: say("position.simulator"), phone: say("position.own"), unknown: say("position.kind_unknown"),
};

/** The label of a marker that is not the user's position; "" for one that may be. */
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

/** The title of a fix. */
export function headText(s: Fix): string {
  const mark = markerText(s);
  if (s.recorded) return say("position.recorded", { kind: kindTexts[s.kind] });
  return mark === "" ? capitalize(kindTexts[s.kind]) : say("position.not_live", { kind: kindTexts[s.kind] });
}

/** The text with a capital letter. */
export const capitalize = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

/** The error of a fix: "within 2.1 ft (95 %)". */
export function errorText(s: Fix, units: Units): string {
  if (s.grounds === "implausible") return say("position.implausible");
  if (s.error <= 0) return say("position.no_error");
  const error = roundedUpText(s.error, units);
  return s.grounds === "hdop" ? say("position.error_hdop", { error }) : say("position.error", { error });
}

/** The source of the error, as a sentence. */
export function groundsText(s: Fix, units: Units): string {
  switch (s.grounds) {
    case "old-corrections": return say("position.corrections_too_old");
    case "implausible": return say("position.implausible_why", { error: roundedUpText(s.stated ?? 0, units), kind: kindTexts[s.kind] });
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

/** Seconds in a year. */
const year = 365.25 * 86_400;

/** A duration or a difference between clocks, in whole units: "12 s", "3 h", "5 days", "19 years". */
export function durationText(seconds: number): string {
  const s = Math.abs(seconds);
  if (s < 100) return `${Math.floor(s)} s`;
  if (s < 6000) return `${Math.floor(s / 60)} min`;
  if (s < 172_800) return `${Math.floor(s / 3600)} h`;
  return s < 2 * year ? say("date.span_days", { n: Math.floor(s / 86_400) }) : say("date.span_years", { n: Math.floor(s / year) });
}
