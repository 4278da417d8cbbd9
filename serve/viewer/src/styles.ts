// Map styles: casing under colour, letters along lines, depths beside readings.
import type { FeatureLike } from "ol/Feature";
import CircleStyle from "ol/style/Circle";
import Fill from "ol/style/Fill";
import Stroke from "ol/style/Stroke";
import Style, { type StyleFunction } from "ol/style/Style";
import Text from "ol/style/Text";
import { cap, colours, dash, font, ink } from "./look";
import type { Overlay } from "./types";
import { depthText, type Units } from "./units";

/** A feature's depth in metres, or null where it has none that can be used. */
export function depthOf(f: FeatureLike): number | null {
  const v: unknown = f.get("depth_m");
  return typeof v === "number" && Number.isFinite(v) ? v : null;
}

function letter(o: Overlay, alongLine: boolean): Text {
  const { colour, casing } = colours(o);
  return new Text({
    text: o.letter, font: `800 17px ${font}`, placement: alongLine ? "line" : "point", repeat: alongLine ? 150 : undefined,
    fill: new Fill({ color: colour }), stroke: new Stroke({ color: casing, width: 6 }),
  });
}

function strokes(o: Overlay): [Stroke, Stroke] {
  const { colour, casing } = colours(o);
  return [
    new Stroke({ color: casing, width: 8, lineCap: "round", lineJoin: "round" }),
    new Stroke({
      color: colour, width: 4.5, lineDash: dash(o.quality_level), lineCap: cap(o.quality_level), lineJoin: "round",
    }),
  ];
}

function lineStyles(o: Overlay): Style[] {
  const [casing, colour] = strokes(o);
  return [new Style({ stroke: casing }), new Style({ stroke: colour, text: letter(o, true) })];
}

function faceStyles(o: Overlay): Style[] {
  const [casing, colour] = strokes(o);
  const fill = new Fill({ color: colours(o).colour + "30" });
  return [new Style({ stroke: casing }), new Style({ stroke: colour, fill, text: letter(o, false) })];
}

function dot(o: Overlay): Style {
  const { colour, casing } = colours(o);
  return new Style({
    zIndex: 1,
    image: new CircleStyle({
      radius: 8, fill: new Fill({ color: colour }), stroke: new Stroke({ color: casing, width: 3 }), declutterMode: "none",
    }),
  });
}

function depthLabel(o: Overlay, text: string): Style {
  return new Style({
    zIndex: 2,
    text: new Text({
      text, font: `700 15px ${font}`, textAlign: "left", offsetX: 15, offsetY: 0,
      fill: new Fill({ color: ink }),
      backgroundFill: new Fill({ color: "#ffffff" }),
      backgroundStroke: new Stroke({ color: colours(o).casing === "#000000" ? "#000000" : colours(o).colour, width: 2 }),
      padding: [3, 5, 2, 6],
    }),
  });
}

function kindOf(f: FeatureLike): string {
  return f.getGeometry()?.getType() ?? "";
}

/** The style of a record's lines and outlines; readings are left to readingStyle. */
export function lineStyle(o: Overlay): StyleFunction {
  const lines = lineStyles(o);
  const faces = faceStyles(o);
  const mixed = [...faces, dot(o)];
  return (f) => {
    const kind = kindOf(f);
    if (kind.endsWith("Point")) return undefined;
    if (kind.endsWith("LineString")) return lines;
    return kind.endsWith("Polygon") ? faces : mixed;
  };
}

/** The style of a record's readings, with their depths in the job's units. */
export function readingStyle(o: Overlay, units: Units): StyleFunction {
  const point = dot(o);
  const labels = new Map<string, Style[]>();
  return (f) => {
    if (!kindOf(f).endsWith("Point")) return undefined;
    const d = depthOf(f);
    if (d === null) return point;
    const text = depthText(d, units);
    let styles = labels.get(text);
    if (styles === undefined) {
      styles = [point, depthLabel(o, text)];
      labels.set(text, styles);
    }
    return styles;
  };
}

/** The edge of the dig area (white, the colour of proposed digging) and of the margin round it. */
export function areaStyle(): StyleFunction {
  const edge = (width: number, color: string, lineDash: number[] = []) =>
    new Style({ stroke: new Stroke({ color, width, lineDash, lineJoin: "miter", lineCap: "butt" }) });
  const area = [edge(8, "#000000"), edge(4, "#ffffff")];
  const margin = [edge(4, "#000000"), edge(2, "#ffffff", [10, 8])];
  return (f) => (f.get("part") === "margin" ? margin : area);
}

/** What is laid under a chosen feature to mark it out. */
export function chosenStyle(): Style[] {
  const halo = (width: number, color: string) =>
    new Style({
      stroke: new Stroke({ color, width }),
      image: new CircleStyle({
        radius: 12 + width / 4, fill: new Fill({ color: "rgba(0,0,0,0)" }), stroke: new Stroke({ color, width: width / 3 }),
      }),
    });
  return [halo(22, ink), halo(16, "#ffffff")];
}
