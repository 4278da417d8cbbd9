// Test holes: points where a line was exposed and measured.
import type { FeatureLike } from "ol/Feature";
import { Circle as CircleStyle, Fill, RegularShape, Stroke, Style } from "ol/style";
import type { Overlay } from "../lib/api";
import { svg } from "../lib/dom";
import { say } from "../lib/words";
import { boundedText, type Properties } from "./record";
import { coloursOf, swatchFrame } from "./symbology";

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

/** The mark on the map: a square with a dot. */
export function testHoleStyles(o: Overlay): Style[] {
  const { colour, casing } = coloursOf(o);
  return [
    new Style({
      zIndex: 1,
      image: new RegularShape({
        points: 4, radius: 13, angle: Math.PI / 4, fill: new Fill({ color: colour }), stroke: new Stroke({ color: casing, width: 3 }), declutterMode: "none",
      }),
    }),
    new Style({ zIndex: 1, image: new CircleStyle({ radius: 3.5, fill: new Fill({ color: casing }), declutterMode: "none" }) }),
  ];
}

/** The mark for lists; black and white without a record. */
export function testHoleSwatch(o: Overlay | null): SVGElement {
  const { colour, casing } = o === null ? { colour: "#000000", casing: "#ffffff" } : coloursOf(o);
  return swatchFrame(40,
    svg("rect", { x: 19, y: 11, width: 18, height: 18, fill: colour, stroke: casing, "stroke-width": 3 }),
    svg("circle", { cx: 28, cy: 20, r: 3.5, fill: casing }));
}
