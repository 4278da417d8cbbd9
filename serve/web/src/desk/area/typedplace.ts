// A place as it was typed, in any of the forms that the command line reads.
import type { LonLat } from "../../shared/coords/geodesic";
import type { Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import type { Desk } from "../app/desk";

/** The place that is meant; asks when another one is likelier. null when the person gives no answer. */
export async function placeTyped(desk: Desk, text: string, units: Units): Promise<LonLat | null> {
  const { at, likely } = await desk.api.post<{ at: LonLat; likely: LonLat | null }>("/api/place", { text, units });
  if (likely === null) return at;
  const [yes, no] = [say("draw.meant_other", { place: words(likely) }), say("draw.meant", { place: words(at) })];
  const answer = await desk.ask(say("draw.which", { place: words(at) }), [yes, no]);
  return answer === null ? null : answer === yes ? likely : at;
}

const words = ([lon, lat]: LonLat): string => `${lat}, ${lon}`;
