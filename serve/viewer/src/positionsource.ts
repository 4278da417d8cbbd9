// Where a position comes from: the receiver on the laptop, or this phone.
import type { Events } from "./events";
import type { Kind, Sight, Whereabouts } from "./positionsight";

/** The event "position" of the laptop. */
interface PositionEvent {
  source: string;
  recorded: boolean;
  phase: string;
  trouble: string;
  fix: {
    lat: number; lon: number; kind: string; live: boolean; recorded: boolean; satellites: number | null; hdop: number | null;
    error_m: number | null; corrections_s: number | null; grounds: string; age_ms: number; time: string; ahead_s: number;
  } | null;
  read: number;
  refused: number;
  refusal: string;
}

export interface Receiver {
  /** what it is, in the laptop's words; "" when the laptop has none, or has not told yet */
  name: string;
  now(): Whereabouts;
  /** a sentence about what of it could not be read, or "" */
  refused: string;
}

const nothing: Whereabouts = { sight: null, trouble: "" };

/** Follows the receiver on the laptop; `changed` runs at every word of it. */
export function followReceiver(events: Events, changed: () => void): Receiver {
  let last: PositionEvent | null = null;
  let sight: Sight | null = null;
  let reached = true;
  const receiver: Receiver = {
    name: "",
    refused: "",
    now() {
      if (!reached) return { sight, trouble: "This device does not reach the laptop." };
      if (last === null) return { ...nothing, trouble: "The laptop has not told its position yet." };
      return { sight, trouble: troubleText(last), ...shortText(last) };
    },
  };
  events.on("link", (up) => {
    reached = up === true;
    changed();
  });
  events.on("position", (data, at) => {
    last = data as PositionEvent;
    sight = sightOf(last, at);
    receiver.name = last.source;
    receiver.refused = last.refused === 0 ? ""
      : `${last.refused} of ${last.refused + last.read} of its sentences could not be used; the latest: ${last.refusal}.`;
    changed();
  });
  return receiver;
}

function sightOf(p: PositionEvent, at: number): Sight | null {
  const f = p.fix;
  if (f === null || !Number.isFinite(f.lat) || !Number.isFinite(f.lon)) return null;
  return {
    lon: f.lon, lat: f.lat, kind: kindOf(f.kind), live: fromSatellites.includes(f.kind) && !f.recorded && !p.recorded, recorded: f.recorded || p.recorded,
    error: f.error_m ?? 0, grounds: groundsOf(f.grounds), at: at - f.age_ms, corrections: f.corrections_s,
    satellites: f.satellites ?? -1, hdop: f.hdop ?? 0, time: f.time, ahead: f.ahead_s,
  };
}

// In silence the laptop calls nothing live; here its age tells that.
const fromSatellites = ["rtk-fixed", "rtk-float", "differential", "autonomous"];

function groundsOf(text: string): Sight["grounds"] {
  const known: Sight["grounds"][] = ["gst", "hdop", "implausible", "old-corrections"];
  return known.find((g) => g === text) ?? "";
}

function kindOf(text: string): Kind {
  const known: Kind[] = ["rtk-fixed", "rtk-float", "differential", "autonomous", "estimated", "manual", "simulator"];
  return known.find((k) => k === text) ?? "unknown";
}

function troubleText(p: PositionEvent): string {
  switch (p.phase) {
    case "fix": return "";
    case "none": return "No receiver is connected to the laptop.";
    case "no-fix": return "The receiver says that it has no position.";
    case "away": return `The receiver is away: ${p.trouble}.`;
    case "silent": return `No position from the receiver: ${p.trouble}.`;
    case "ended": return "The recording is over.";
    default: return "The laptop looks for the receiver.";
  }
}

// The cause of a trouble names addresses and ports: that is for the sheet.
function shortText(p: PositionEvent): { short?: string } {
  switch (p.phase) {
    case "away": return { short: "The receiver is away." };
    case "silent": return { short: "No position from the receiver." };
    default: return {};
  }
}

export interface Phone {
  /** why this device cannot give its position to this page; "" when it can be asked */
  reason: string;
  now(): Whereabouts;
  /** Begins to ask, and ends it. */
  put(on: boolean): void;
}

/** This device's own position. */
export function followPhone(changed: () => void): Phone {
  let sight: Sight | null = null;
  let trouble = "";
  let watching: number | null = null;
  const phone: Phone = {
    reason: reason(),
    now: () => ({ sight, trouble }),
    put(on) {
      if (on === (watching !== null) || (on && phone.reason !== "")) return;
      if (!on && watching !== null) {
        navigator.geolocation.clearWatch(watching);
        watching = null;
        sight = null;
        return;
      }
      trouble = "This device is looking for its position; it may ask for leave.";
      watching = navigator.geolocation.watchPosition((p) => {
        trouble = "";
        sight = ownSight(p);
        changed();
      }, (e) => {
        trouble = refusal(e);
        changed();
      }, { enableHighAccuracy: true, maximumAge: 0, timeout: 30_000 });
    },
  };
  return phone;
}

// A browser gives its position to a secure page alone (W3C Geolocation; Secure Contexts 3.1).
function reason(): string {
  if (!window.isSecureContext) {
    return "Not on this page: a browser gives its own position only to a secure page (https), and this one came over plain http.";
  }
  return "geolocation" in navigator ? "" : "This browser gives no position.";
}

function ownSight(p: GeolocationPosition): Sight {
  return {
    lon: p.coords.longitude, lat: p.coords.latitude, kind: "phone", live: true, recorded: false,
    error: p.coords.accuracy, grounds: "phone", at: Math.min(p.timestamp, Date.now()), satellites: -1, hdop: 0, time: "", ahead: 0, corrections: null,
  };
}

function refusal(e: GeolocationPositionError): string {
  switch (e.code) {
    case e.PERMISSION_DENIED: return "This device does not let this page know its position: allow it in the browser’s settings for this page.";
    case e.TIMEOUT: return "This device found no position in half a minute.";
    default: return "This device says that it cannot find its position.";
  }
}
