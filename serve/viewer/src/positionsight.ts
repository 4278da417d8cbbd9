// What is known of where somebody is, and how it is said. Nothing here makes a
// position look better than it is.
import type { Units } from "./units";
import { say } from "./words";

/** How a position came about; "phone" is this device's own, which does not say. */
export type Kind =
  | "rtk-fixed" | "rtk-float" | "differential" | "autonomous" | "unknown"
  | "estimated" | "manual" | "simulator" | "phone";

/** One position. */
export interface Sight {
  lon: number;
  lat: number;
  kind: Kind;
  /** from satellites or this phone, and not recorded: may be shown as where somebody is */
  live: boolean;
  recorded: boolean;
  /** radius in metres that holds 95 %, 0 when nothing tells */
  error: number;
  /** the receiver's own sigmas, the satellites' geometry (a rough estimate), or this phone's word */
  grounds: "gst" | "hdop" | "phone" | "implausible" | "old-corrections" | "";
  /** age of its corrections in seconds, null when not told */
  corrections: number | null;
  /** when it was true, in milliseconds since 1970 by this device's clock */
  at: number;
  /** in use, -1 when not told */
  satellites: number;
  hdop: number;
  /** the receiver's time and how many seconds it is ahead of the laptop's; "" when not told */
  time: string;
  ahead: number;
}

/** Where somebody is, as far as it is known. */
export interface Whereabouts {
  /** the latest position, also when it is old */
  sight: Sight | null;
  /** why there is no present one, in words; "" when there is */
  trouble: string;
  /** the same without its cause, for the bar over the map; left out when `trouble` is short enough */
  short?: string;
}

/** After so long a position fades, and after so long it is hollow and without a circle: people walk on. */
export const fadesMs = 5_000;
export const hollowMs = 30_000;

export type Freshness = "fresh" | "fading" | "old";

export function freshness(s: Sight, trouble: string, now: number): Freshness {
  const age = ageOf(s, now);
  if (age > hollowMs) return "old";
  return age > fadesMs || trouble !== "" ? "fading" : "fresh";
}

/** Milliseconds; Infinity when it is not known, because the clock was set back since: it may be any. */
export function ageOf(s: Sight, now: number): number {
  return s.at - now > 1_000 ? Infinity : Math.max(0, now - s.at);
}

/** From so many seconds on two clocks differ by more than a slip: a position that may be late is not "now". */
export const clocksApart = 10;

/** When it was, for the bar: never "now" for what may come late. */
export function whenText(s: Sight, now: number): string {
  if (s.time === "" || s.recorded || Math.abs(s.ahead) < clocksApart) return agoText(ageOf(s, now));
  return s.ahead < 0 ? say("position.behind", { time: clockText(s.ahead) }) : say("position.ahead", { time: clockText(s.ahead) });
}

/** In which frame a position is; "" where that is the map's own. */
export function frameText(s: Sight, units: Units): string {
  const corrected = s.kind === "rtk-fixed" || s.kind === "rtk-float" || s.kind === "differential";
  return corrected ? say("position.frame", { off: upText(1.5, units) }) : "";
}

/** Decimals of a degree that the error of a position warrants. */
export function decimalsOf(s: Sight): number {
  if (s.error <= 0) return 6;
  return s.error < 0.05 ? 8 : s.error < 0.5 ? 7 : s.error < 5 ? 6 : 5;
}

export function kindText(k: Kind): string {
  switch (k) {
    case "rtk-fixed": return "RTK fixed";
    case "rtk-float": return "RTK float, not settled";
    case "differential": return "satellites with corrections";
    case "autonomous": return "satellites without corrections";
    case "estimated": return "dead reckoning, not from satellites";
    case "manual": return "typed in by hand";
    case "simulator": return "made up by a simulator";
    case "phone": return "this phone’s own";
    default: return "kind of fix not known";
  }
}

/** What stands beside a dot that is not where somebody is; "" for one that may be. */
export function markText(s: Sight): string {
  if (s.recorded) return "RECORDED";
  switch (s.kind) {
    case "simulator": return "SIMULATED";
    case "manual": return "BY HAND";
    case "estimated": return "DEAD RECKONING";
    case "unknown": return "KIND NOT KNOWN";
    default: return s.live ? "" : "NOT LIVE";
  }
}

/** The first words about a position. */
export function headText(s: Sight): string {
  const mark = markText(s);
  if (s.recorded) return `Recorded, not live: ${kindText(s.kind)}`;
  return mark === "" ? upper(kindText(s.kind)) : `Not live: ${kindText(s.kind)}`;
}

/** With a capital letter. */
export function upper(text: string): string {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

/** How far off a position may be: "within 2.1 ft (95 %)". */
export function errorText(s: Sight, units: Units): string {
  if (s.grounds === "old-corrections") return say("position.old_corrections", { seconds: Math.round(s.corrections ?? 0) });
  if (s.grounds === "implausible") return say("position.implausible");
  if (s.error <= 0) return "error not told";
  const within = `${upText(s.error, units)} (95 %`;
  return s.grounds === "hdop" ? `within about ${within}, estimated)` : `within ${within})`;
}

/** Where the error comes from, in a sentence. */
export function groundsText(s: Sight): string {
  switch (s.grounds) {
    case "gst": return "The receiver’s own estimate of its error.";
    case "hdop": return "A rough estimate: how the satellites stand (HDOP), times an assumed error.";
    case "phone": return "This phone’s own estimate of its error.";
    case "implausible": return say("position.implausible_why", { kind: kindText(s.kind) });
    case "old-corrections": return say("position.old_why");
    default: return "Nothing tells how far off it may be, so there is no circle.";
  }
}

/** A distance with two digits, rounded up: an error is never told smaller than it is. */
export function upText(metres: number, units: Units): string {
  const [unit, per] = units === "us"
    ? (metres < 3 * 0.3048 ? ["in", 0.0254] as const : ["ft", 0.3048] as const)
    : (metres < 1 ? ["cm", 0.01] as const : ["m", 1] as const);
  const v = metres / per;
  const step = 10 ** Math.max(Math.floor(Math.log10(v)) - 1, -1);
  return `${Number((Math.ceil(v / step - 1e-6) * step).toPrecision(6))} ${unit}`;
}

/** A distance across country: feet to miles, metres to kilometres, two digits. */
export function farText(metres: number, units: Units): string {
  const [near, far, per] = units === "us" ? ["ft", "mi", 5280] as const : ["m", "km", 1000] as const;
  const v = units === "us" ? metres / 0.3048 : metres;
  return v < 1000 ? `${two(v)} ${near}` : `${two(v / per)} ${far}`;
}

function two(v: number): string {
  return String(Number(v.toPrecision(v >= 100 ? 3 : 2)));
}

/** An age: "now", "2 s ago", "4 min ago", "3 h ago". */
export function agoText(ms: number): string {
  if (!Number.isFinite(ms)) return "age not known";
  return ms < 1000 ? "now" : `${clockText(Math.floor(ms / 1000))} ago`;
}

/** A time between two moments or two clocks, in whole units: "12 s", "3 h", "7168 days". */
export function clockText(seconds: number): string {
  const s = Math.abs(seconds);
  if (s < 100) return `${Math.floor(s)} s`;
  if (s < 6000) return `${Math.floor(s / 60)} min`;
  return s < 172_800 ? `${Math.floor(s / 3600)} h` : `${Math.floor(s / 86_400)} days`;
}
