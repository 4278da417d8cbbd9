// The map styles of records: casing under color, letters along lines, depths beside points.
import type { FeatureLike } from "ol/Feature";
import { Circle as CircleStyle, Fill, Stroke, Style, Text } from "ol/style";
import type { Options, StyleFunction } from "ol/style/Style";
import type { Overlay } from "../lib/api";
import { cachedByTheme, theme } from "../lib/theme";
import { depthFont, type DepthLabels } from "./depthlabels";
import { labelGap, labelHeight, type Side } from "./labelplacement";
import { hatchFill, tickStyle } from "./linepattern";
import { qualityLevelOf } from "./record";
import { drawnState, lineLetters, stateStyles } from "./statesymbols";
import { coloursOf, dashOf, font, lineCapOf, lineSymbol } from "./symbology";
import { isTestHole, testHoleStyles } from "./testhole";

export function letterText(o: Overlay, alongLine: boolean, state = ""): Text {
  const { colour, casing } = coloursOf(o);
  return new Text({
    text: lineLetters(o, state), font: `800 17px ${font}`, placement: alongLine ? "line" : "point", repeat: alongLine ? (state === "" ? 150 : 240) : undefined,
    fill: new Fill({ color: colour }), stroke: new Stroke({ color: casing, width: 6 }), scale: theme().weight > 1 ? 1.2 : 1,
  });
}

export function lineStrokes(o: Overlay, level: string): [Stroke, Stroke] {
  const { colour, casing } = coloursOf(o);
  return [
    new Stroke({ color: casing, width: 8 * theme().weight, lineCap: "round", lineJoin: "round" }),
    new Stroke({
      color: colour, width: 4.5 * theme().weight, lineDash: dashOf(level), lineCap: lineCapOf(level), lineJoin: "round",
    }),
  ];
}

/** The key of a line's style within its record: its quality level and its state. */
export const lineKey = (level: string, f: FeatureLike): string => `${rankedLevel(level)}|${drawnState(f)}`;

/** The upper styles of a line. With strokes of a state, the letters go above these and above the ticks. */
function labeled(o: Overlay, level: string, state: string, colour: Options, text: Text): Style[] {
  if (state === "") return [new Style({ ...colour, text })];
  return [new Style(colour), ...stateStyles(o, level, state), new Style({ zIndex: 1, text })];
}

export function lineStyles(o: Overlay, key: string): Style[] {
  const [level = "", state = ""] = key.split("|");
  const [casing, colour] = lineStrokes(o, level);
  const ticks = tickStyle(lineSymbol(o.utility, level), coloursOf(o).colour, coloursOf(o).casing);
  return [new Style({ stroke: casing }), ...(ticks ? [ticks] : []), ...labeled(o, level, state, { stroke: colour }, letterText(o, true, state))];
}

function polygonStyles(o: Overlay, key: string): Style[] {
  const [level = "", state = ""] = key.split("|");
  const [casing, colour] = lineStrokes(o, level);
  const fill = hatchFill(lineSymbol(o.utility, level), coloursOf(o).colour);
  return [new Style({ stroke: casing }), ...labeled(o, level, state, { stroke: colour, fill }, letterText(o, false, state))];
}

export function dotStyle(o: Overlay): Style {
  const { colour, casing } = coloursOf(o);
  return new Style({
    zIndex: 1,
    image: new CircleStyle({
      radius: 8, fill: new Fill({ color: colour }), stroke: new Stroke({ color: casing, width: 3 }), declutterMode: "none",
    }),
  });
}

/** The position of a label relative to its dot. */
function labelOffset(side: Side): { textAlign: CanvasTextAlign; offsetX: number; offsetY: number } {
  const down = labelGap + labelHeight / 2;
  switch (side) {
    case "right": return { textAlign: "left", offsetX: labelGap + 7, offsetY: 0 };
    case "left": return { textAlign: "right", offsetX: -labelGap - 7, offsetY: 0 };
    case "above": return { textAlign: "center", offsetX: 0, offsetY: -down };
    case "below": return { textAlign: "center", offsetX: 0, offsetY: down };
  }
}

// Already placed so that it covers nothing; letters along lines keep clear of it.
function depthLabel(o: Overlay, text: string, side: Side): Style {
  return new Style({
    zIndex: 2,
    text: new Text({
      text, font: depthFont, ...labelOffset(side), declutterMode: "obstacle",
      fill: new Fill({ color: theme().ink }),
      backgroundFill: new Fill({ color: theme().paper }),
      backgroundStroke: new Stroke({ color: coloursOf(o).casing === "#000000" ? theme().ink : coloursOf(o).colour, width: 2 }),
      padding: [3, 5, 2, 6],
    }),
  });
}

const shapeOf = (f: FeatureLike): string => f.getGeometry()?.getType() ?? "";

/** The style of a record's lines and polygons, by quality level and state; points have pointStyle. */
export function lineStyle(o: Overlay): StyleFunction {
  // Any level but A to D is drawn as one not stated: the record's own terms cannot be ranked.
  const known = (f: FeatureLike) => lineKey(qualityLevelOf(f, o).value, f);
  const lines = cachedByTheme((key) => lineStyles(o, key));
  const faces = cachedByTheme((key) => polygonStyles(o, key));
  const mixed = cachedByTheme((key) => [...polygonStyles(o, key), dotStyle(o)]);
  return (f) => {
    const kind = shapeOf(f);
    if (kind.endsWith("Point")) return undefined;
    if (kind.endsWith("LineString")) return lines(known(f));
    return kind.endsWith("Polygon") ? faces(known(f)) : mixed(known(f));
  };
}

export const rankedLevel = (level: string): string => (/^[A-D]$/.test(level) ? level : "");

/** The style of a record's points with their depth labels. A plain dot is a single style, anything else an array. */
export function pointStyle(o: Overlay, depths: DepthLabels): StyleFunction {
  const point = dotStyle(o);
  const square = testHoleStyles(o);
  const labelled = (side: Side): [(text: string) => Style[], (text: string) => Style[]] => [
    cachedByTheme((text) => [point, depthLabel(o, text, side)]), cachedByTheme((text) => [...square, depthLabel(o, text, side)]),
  ];
  const labels = { right: labelled("right"), left: labelled("left"), above: labelled("above"), below: labelled("below") };
  return (f, resolution) => {
    if (!shapeOf(f).endsWith("Point")) return undefined;
    const side = depths.sideOf(f, resolution);
    const exposed = isTestHole(f);
    if (side === null) return exposed ? square : point;
    return labels[side][exposed ? 1 : 0](depths.textOf(f));
  };
}

/** The halo under a feature that is looked at, and the thin one under others found with it. */
export function selectionStyle(): StyleFunction {
  const halo = (width: number, color: string) =>
    new Style({
      stroke: new Stroke({ color, width }),
      image: new CircleStyle({
        radius: 12 + width / 4, fill: new Fill({ color: "rgba(0,0,0,0)" }), stroke: new Stroke({ color, width: width / 3 }),
      }),
    });
  const lit = cachedByTheme((lighter) => (lighter === "" ? [halo(22, theme().ink), halo(16, theme().paper)] : [halo(16, `${theme().ink}70`), halo(13, `${theme().paper}90`)]));
  return (f) => lit(f.get("lighter") === true ? "lighter" : "");
}
