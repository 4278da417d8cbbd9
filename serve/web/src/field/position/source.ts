// The sources of a position: the receiver on the laptop, or this phone.
import { say } from "../../shared/lib/words";
import type { Events } from "../live/events";
import type { Fix, FixKind, PositionState } from "./fix";

/** The event "position". */
interface PositionEvent {
  source: string;
  recorded: boolean;
  phase: string;
  trouble: string;
  frame: string | null;
  fix: {
    lat: number; lon: number; kind: string; live: boolean; recorded: boolean; satellites: number | null; hdop: number | null;
    error_m: number | null; grounds: string; stated_m: number | null; corrections_s: number | null; station: string | null;
    nad83_m: number | null; age_ms: number; time: string; clock: string | null; ahead_s: number | null;
  } | null;
  read: number;
  refused: number;
  refusal: string;
}

export interface ReceiverSource {
  /** its name; "" without a receiver, or before the first event */
  name: string;
  now(): PositionState;
  /** a message about input that could not be read, or "" */
  refused: string;
}

const nothing: PositionState = { fix: null, trouble: "" };

/** Follows the receiver on the laptop; `changed` runs on every event. */
export function followReceiver(events: Events, changed: () => void): ReceiverSource {
  let last: PositionEvent | null = null;
  let fix: Fix | null = null;
  let reached = true;
  const receiver: ReceiverSource = {
    name: "",
    refused: "",
    now() {
      if (!reached) return { fix, trouble: say("position.not_reached") };
      if (last === null) return { ...nothing, trouble: say("position.not_told") };
      return { fix, trouble: troubleText(last), ...shortText(last) };
    },
  };
  events.on("link", (up) => {
    reached = up === true;
    changed();
  });
  events.on("position", (data, at) => {
    last = data as PositionEvent;
    fix = fixOf(last, at);
    receiver.name = last.source;
    receiver.refused = last.refused === 0 ? ""
      : say("position.refused_words", { n: last.refused, all: last.refused + last.read, why: last.refusal });
    changed();
  });
  return receiver;
}

function fixOf(p: PositionEvent, at: number): Fix | null {
  const f = p.fix;
  if (f === null || !Number.isFinite(f.lat) || !Number.isFinite(f.lon)) return null;
  const kind = parseKind(f.kind);
  const recorded = f.recorded || p.recorded;
  return {
    // The laptop's "live" ends when a receiver falls silent; here the marker fades instead.
    lon: f.lon, lat: f.lat, kind, live: fromSatellites.includes(kind) && !recorded, recorded,
    error: f.error_m ?? 0, grounds: grounds.find((g) => g === f.grounds) ?? "", at: at - f.age_ms,
    stated: f.stated_m, correction: f.corrections_s, station: f.station, frame: p.frame, nad83: f.nad83_m,
    satellites: f.satellites ?? -1, hdop: f.hdop ?? 0, time: f.time, clock: f.clock, ahead: f.ahead_s,
  };
}

const fromSatellites: FixKind[] = ["rtk-fixed", "rtk-float", "differential", "autonomous"];
const grounds: Fix["grounds"][] = ["gst", "hdop", "old-corrections", "implausible"];

function parseKind(text: string): FixKind {
  const known: FixKind[] = ["rtk-fixed", "rtk-float", "differential", "autonomous", "estimated", "manual", "simulator"];
  return known.find((k) => k === text) ?? "unknown";
}

function troubleText(p: PositionEvent): string {
  switch (p.phase) {
    case "fix": return "";
    case "none": return say("position.no_receiver");
    case "no-fix": return say("position.no_fix");
    case "away": return say("position.away_why", { why: p.trouble });
    case "silent": return say("position.silent_why", { why: p.trouble });
    case "ended": return say("position.ended");
    default: return say("position.looking");
  }
}

// The cause names addresses and ports, which is for the sheet only.
function shortText(p: PositionEvent): { short?: string } {
  switch (p.phase) {
    case "away": return { short: say("position.away") };
    case "silent": return { short: say("position.silent") };
    default: return {};
  }
}

export interface PhoneSource {
  /** why this page cannot get the position of this device; "" when it can */
  reason: string;
  now(): PositionState;
  /** Starts or stops watching the position. */
  setOn(on: boolean): void;
}

/** This device's own position. */
export function followPhone(changed: () => void): PhoneSource {
  let fix: Fix | null = null;
  let trouble = "";
  let watching: number | null = null;
  const phone: PhoneSource = {
    reason: reason(),
    now: () => ({ fix, trouble }),
    setOn(on) {
      if (on === (watching !== null) || (on && phone.reason !== "")) return;
      if (!on && watching !== null) {
        navigator.geolocation.clearWatch(watching);
        watching = null;
        fix = null;
        return;
      }
      trouble = say("position.phone_looking");
      watching = navigator.geolocation.watchPosition((p) => {
        trouble = "";
        fix = phoneFix(p);
        changed();
      }, (e) => {
        trouble = geolocationError(e);
        changed();
      }, { enableHighAccuracy: true, maximumAge: 0, timeout: 30_000 });
    },
  };
  return phone;
}

// Browsers give a position to secure pages only (W3C Geolocation; Secure Contexts 3.1).
function reason(): string {
  if (!window.isSecureContext) return say("position.phone_plain_http");
  return "geolocation" in navigator ? "" : say("position.phone_no_browser");
}

function phoneFix(p: GeolocationPosition): Fix {
  return {
    lon: p.coords.longitude, lat: p.coords.latitude, kind: "phone", live: true, recorded: false,
    error: p.coords.accuracy, grounds: "phone", at: Math.min(p.timestamp, Date.now()), satellites: -1, hdop: 0, time: "",
    stated: null, correction: null, station: null, frame: null, nad83: null, clock: null, ahead: null,
  };
}

function geolocationError(e: GeolocationPositionError): string {
  switch (e.code) {
    case e.PERMISSION_DENIED: return say("position.phone_refused");
    case e.TIMEOUT: return say("position.phone_timeout");
    default: return say("position.phone_unknown");
  }
}
