// The map styles of records. Edges are styles of their own, on a layer under all others, so that
// no edge ever covers a color that names a utility.
import type { FeatureLike } from "ol/Feature";
import { Circle as CircleStyle, Fill, Stroke, type Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import type { Overlay } from "../lib/api";
import { cachedByTheme, theme } from "../lib/theme";
import { hatchFill } from "./hatch";
import type { Label } from "./boxes";
import { casingMark, colourMark, type LineLook, type LettersAt } from "./linemarks";
import { type Drawn, mark, pictureMark } from "./marks";
import type { MarkPlaces } from "./markplaces";
import { depthPicture, dotEdgePicture, dotPicture, leaderPicture, pointMark, ringedDotPicture, testHoleEdgePicture, testHolePicture, unwrittenPicture } from "./pointmarks";
import { mergedWith, qualityLevelOf } from "./record";
import { drawnState } from "./statesymbols";
import { coloursOf, lineSymbol } from "./symbology";
import { isTestHole } from "./testhole";

const rankedLevel = (level: string): string => (/^[A-D]$/.test(level) ? level : "");

/** The key of a line's style within its record: its quality level and its state. */
export const lineKey = (level: string, f: FeatureLike): string => `${rankedLevel(level)}|${drawnState(f)}`;

/** The look of a line by its key. */
export function lookOf(overlay: Overlay, key: string, letters: LettersAt): LineLook {
  const [level = "", state = ""] = key.split("|");
  return { overlay, level, state, letters };
}

export const shapeOf = (f: FeatureLike): string => f.getGeometry()?.getType() ?? "";

/** The inside of a polygon. */
export const faceMark = (o: Overlay, level: string): Style =>
  mark("outline", { fill: hatchFill(lineSymbol(o.utility, level), coloursOf(o).colour) });

/** The radius of points in a collection of shapes, which are not placed. */
const mixedRadius = 6;

/** The style of a record's lines and polygons, by quality level and state; points have pointStyle. */
export function lineStyle(o: Overlay, places: MarkPlaces): StyleFunction {
  const { lettersAt } = places;
  // Any level but A to D is drawn as one not stated: the record's own terms cannot be ranked.
  const known = (f: FeatureLike) => lineKey(qualityLevelOf(f, o).value, f);
  const lines = cachedByTheme((key) => colourMark("line", lookOf(o, key, lettersAt)));
  const faces = cachedByTheme((key) => [faceMark(o, key), colourMark("outline", lookOf(o, key, lettersAt))]);
  const mixed = cachedByTheme((key) => [...faces(key), pointMark("reading", dotPicture(o, mixedRadius), true, 1)]);
  return (f) => {
    const kind = shapeOf(f);
    if (kind.endsWith("Point")) return undefined;
    if (kind.endsWith("LineString")) return lines(known(f));
    return kind.endsWith("Polygon") ? faces(known(f)) : mixed(known(f));
  };
}

/** The style of the edges of a record's lines, polygons, and points. */
export function casingStyle(o: Overlay, places: MarkPlaces): StyleFunction {
  const known = (f: FeatureLike) => lineKey(qualityLevelOf(f, o).value, f);
  const lines = cachedByTheme((key) => casingMark("line", lookOf(o, key, places.lettersAt)));
  const dots = cachedByTheme((radius) => pointMark("reading", dotEdgePicture(o, Number(radius)), false));
  const square = cachedByTheme(() => pointMark("test hole", testHoleEdgePicture(o), false));
  const mixed = cachedByTheme((key) => [lines(key), dots(String(mixedRadius))]);
  return (f, resolution) => {
    const kind = shapeOf(f);
    if (!kind.endsWith("Point")) return (kind === "GeometryCollection" ? mixed : lines)(known(f));
    if (isTestHole(f)) return square("");
    const { radius } = places.pointAt(f, resolution);
    return radius > 0 ? dots(String(radius)) : undefined;
  };
}

/** A mark that is found by a tap and not seen: of a dot that gives way. */
const unseen = pointMark("reading", { left: -4, top: -4, width: 8, height: 8, paint: () => undefined }, true);

/** The style of a record's points with their depth labels. */
export function pointStyle(o: Overlay, places: MarkPlaces): StyleFunction {
  const dots = cachedByTheme((radius) => pointMark("reading", dotPicture(o, Number(radius)), true, 1));
  const ringed = cachedByTheme((radius) => pointMark("reading", ringedDotPicture(o, Number(radius)), true, 1));
  const square = cachedByTheme(() => pointMark("test hole", testHolePicture(o), true, 1));
  const plate = depthMarks(o);
  const unwritten = unwrittenMarks(o);
  return (f, resolution) => {
    if (!shapeOf(f).endsWith("Point")) return undefined;
    const { radius, ringed: near, label, deep } = places.pointAt(f, resolution);
    if (radius === 0) return unseen;
    const dot = isTestHole(f) ? square("") : (near ? ringed : dots)(String(radius));
    if (label === null) return deep ? [dot, unwritten(isTestHole(f) ? "0" : String(radius))] : dot;
    return [dot, ...plate(places.textOf(f, o.letter), label)];
  };
}

/** The sign in dots whose depth is not written, by their radius; 0 for a test hole. */
const unwrittenMarks = (o: Overlay) => cachedByTheme((radius) => pointMark("depth", unwrittenPicture(o, Number(radius)), false, 1.5));

/** The labels of a record, already placed so that they cover nothing, with lines to those that do not touch their dot. */
function depthMarks(o: Overlay): (text: string, label: Label) => Style[] {
  const drawn = cachedByTheme((): Drawn => ({})); // one for each text, wherever it stands
  const beside = cachedByTheme((key) => {
    const [text = "", left, top] = key.split("|");
    return pictureMark("depth", depthPicture(o, text, Number(left), Number(top)), true, { zIndex: 2 }, drawn(text));
  });
  return (text, { left, top, led }) => (led ? [
    pointMark("depth", leaderPicture(o, text, { left, top }), false, 0.5),
    pictureMark("depth", depthPicture(o, text, left, top), true, { zIndex: 2 }, drawn(text)), // seldom: not kept
  ] : [beside(`${text}|${left}|${top}`)]);
}

/** The depth label of a point of a tile, or its test hole's mark; bundles draw its dot. */
export function tiledPointStyle(o: Overlay, places: MarkPlaces): StyleFunction {
  const square = cachedByTheme(() => pointMark("test hole", testHolePicture(o), false, 1));
  const plate = depthMarks(o);
  const unwritten = unwrittenMarks(o);
  return (f, resolution) => {
    if (!shapeOf(f).endsWith("Point") || mergedWith(f) > 0) return undefined; // one that stands for several has no depth
    const { radius, label, deep } = places.pointAt(f, resolution);
    const words = label === null ? deep && radius > 0 ? [unwritten(isTestHole(f) ? "0" : String(radius))] : [] : plate(places.textOf(f, o.letter), label);
    return isTestHole(f) ? [square(""), ...words] : words;
  };
}

/**
 * What is under a feature that is looked at: a halo, thinner under others found with it. An area is filled and has its
 * true edge, however many were found: a halo of its edge would look like pipes beside it.
 */
export function selectionStyle(): StyleFunction {
  const lit = cachedByTheme((kind) => (kind === "area" ? chosenArea() : kind === "" ? chosenStyles() : [halo(16, `${theme().ink}70`), halo(13, `${theme().paper}90`)]));
  return (f) => lit(shapeOf(f).endsWith("Polygon") ? "area" : f.get("lighter") === true ? "lighter" : "");
}

export const chosenStyles = (): Style[] => [halo(22, theme().ink), halo(16, theme().paper)];

/** A quarter of the strongest color of a theme's picture shows the ground through it. */
const chosenArea = (): Style[] => [mark("chosen", {
  fill: new Fill({ color: `${theme().name === "sun" ? theme().ink : "#ffffff"}40` }), stroke: new Stroke({ color: theme().ink, width: 3 }),
})];

const halo = (width: number, color: string) => mark("chosen", {
  stroke: new Stroke({ color, width }),
  image: new CircleStyle({
    radius: 12 + width / 4, fill: new Fill({ color: "rgba(0,0,0,0)" }), stroke: new Stroke({ color, width: width / 3 }),
  }),
});
