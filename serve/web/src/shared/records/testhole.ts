// Test holes: points where a line was exposed and measured.
import type { FeatureLike } from "ol/Feature";
import { say } from "../lib/words";
import { boundedText, type Properties } from "./record";

/** Whether a feature is a test hole, as the import understood its record. */
export const isTestHole = (f: Properties | FeatureLike): boolean => f.get("kind_as_read") === "test hole";
/** The properties that testHoleRows shows. */
export const testHoleKeys = new Set(["kind", "who", "photo", "elevation", "vertical_datum"]);

/** The rows that only a test hole has. */
export function testHoleRows(f: Properties): [string, string][] {
  const elevation = boundedText(f.get("elevation"));
  const rows: [string, string][] = [];
  if (elevation !== "") rows.push([say("testhole.elevation_name"), say("testhole.elevation_row", { elevation, datum: boundedText(f.get("vertical_datum")) || say("details.not_stated") })]);
  rows.push([say("testhole.who"), boundedText(f.get("who")) || say("details.not_stated")],
    [say("testhole.photo"), boundedText(f.get("photo")) || say("testhole.no_photo")], [say("testhole.tells"), say("testhole.limits")]);
  return rows;
}
