// Where a mark lies: at the receiver's position, under the cross, or as typed; with what is known of that, and what is to be said of it.
import { inverse, type LonLat } from "../../shared/coords/geodesic";
import { roundedUpText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { ageOf, agoText, clocksDisagree, errorText, fadeAfterMs, type Fix, freshness, markerText, type PositionState } from "../position/fix";
import type { Placing } from "./entry";

export interface Place {
  at: LonLat;
  placing: Placing;
  /** one line: where from, and how far off it may be */
  said: string;
  /** what makes it doubtful, as short sentences */
  doubts: string[];
  /** whether it says nothing of where the receiver is now: old, recorded, or not from satellites */
  elsewhere: boolean;
}

/** The place of the latest fix; a sentence where there is none. */
export function atReceiver({ fix, trouble }: PositionState, antenna: number | null, units: Units, now: number): Place | string {
  if (fix === null) return say("marking.no_position", { why: trouble });
  return placeOf(fix, [fix.lon, fix.lat], {}, antenna, units, now, trouble);
}

function placeOf(fix: Fix, at: LonLat, averaged: Partial<Placing>, antenna: number | null, units: Units, now: number, trouble: string): Place {
  const age = ageOf(fix, now);
  const elsewhere = fix.recorded || markerText(fix) !== "" || freshness(fix, trouble, now) === "old";
  const placing: Placing = {
    from: "receiver", kind: fix.kind, satellites: fix.satellites < 0 ? null : fix.satellites, hdop: fix.hdop > 0 ? fix.hdop : null,
    error_m: fix.error > 0 && !elsewhere ? fix.error : null, stated_m: fix.stated ?? (elsewhere && fix.error > 0 ? fix.error : null), grounds: fix.grounds, corrections_s: fix.correction, station: fix.station,
    antenna_height_m: antenna, receiver_time: fix.time || (fix.clock ?? ""), ahead_s: fix.ahead, frame: fix.frame, recorded: fix.recorded,
    age_s: Number.isFinite(age) ? Math.round(age) / 1000 : null, ...averaged,
  };
  const error = elsewhere ? say("marking.off_unknown") : errorText(fix, units);
  return { at, placing, said: saidOf(fix, elsewhere, error, age), doubts: doubtsOf(fix, now), elsewhere };
}

function saidOf(fix: Fix, elsewhere: boolean, error: string, age: number): string {
  if (fix.recorded) return say("marking.at_recorded", { error });
  if (elsewhere && markerText(fix) === "") return say("marking.at_last", { ago: agoText(age), error });
  return fix.kind === "phone" ? say("marking.at_phone", { error }) : say("marking.at_receiver", { error });
}

/** Why a fix is no good place, if it is not. */
function doubtsOf(fix: Fix, now: number): string[] {
  const all: string[] = [];
  if (fix.recorded) all.push(say("marking.position_recorded"));
  else if (markerText(fix) !== "") all.push(say("marking.position_not_satellites", { kind: markerText(fix) }));
  if (ageOf(fix, now) > fadeAfterMs) all.push(say("marking.position_old", { ago: agoText(ageOf(fix, now)) }));
  if (fix.error <= 0) all.push(say("marking.position_no_error"));
  if (clocksDisagree(fix)) all.push(say("marking.position_clock"));
  return all;
}

/** The place under the cross, as good as a pixel of some meters at best. */
export function atCross(at: LonLat, pixel: number, units: Units): Place {
  return { at, placing: { from: "cross", error_m: null, grounds: "picture" }, said: say("marking.at_cross", { pixel: roundedUpText(pixel, units) }), doubts: [], elsewhere: false };
}

export function atTyped(at: LonLat): Place {
  return { at, placing: { from: "typed", error_m: null, grounds: "" }, said: say("marking.at_typed"), doubts: [], elsewhere: false };
}

/** Averages the position over some seconds; `now` gives the latest, `told` hears how many seconds are left. */
export async function averaged(now: () => PositionState, seconds: number, antenna: number | null, units: Units, told: (left: number) => void): Promise<Place | string> {
  const fixes = new Map<number, Fix>();
  const began = Date.now(); // a position of before may be of where the crew came from
  for (let left = seconds * 4; left > 0; left--) {
    told(Math.ceil(left / 4));
    const { fix } = now();
    if (fix !== null && fix.at >= began) fixes.set(fix.at, fix);
    await new Promise((done) => setTimeout(done, 250));
  }
  const { fix, trouble } = now();
  if (fix === null) return say("marking.no_position", { why: trouble });
  fixes.set(fix.at, fix);
  const { at, spread } = middleOf([...fixes.values()].map((f): LonLat => [f.lon, f.lat]));
  return placeOf(fix, at, { averaged_s: seconds, averaged_n: fixes.size, spread_m: spread }, antenna, units, Date.now(), trouble);
}

/** The mean of some places, and how far the farthest lies from it in meters. */
export function middleOf(all: LonLat[]): { at: LonLat; spread: number } {
  const mean = (k: 0 | 1) => all.reduce((sum, p) => sum + p[k], 0) / all.length;
  const at: LonLat = [mean(0), mean(1)];
  return { at, spread: Math.round(Math.max(0, ...all.map((p) => inverse(at, p).metres)) * 1e4) / 1e4 };
}
