// The map styles of derived features.
import type { FeatureLike } from "ol/Feature";
import { type Geometry, LineString, MultiLineString, Point } from "ol/geom";
import { Circle as CircleStyle, Fill, RegularShape, Stroke, Style, Text } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import { cachedByTheme, theme } from "../lib/theme";
import type { RecordLayer } from "../records/layer";
import { hatchFill } from "../records/linepattern";
import { boundedText } from "../records/record";
import { lineKey, lineStyles } from "../records/styles";
import { coloursOf, font, lineSymbol } from "../records/symbology";

/** The style of derived features; `shown` tells whether the records of one are on. */
export function derivedStyle(recordOf: (id: unknown) => RecordLayer | undefined, shown: (f: FeatureLike) => boolean): StyleFunction {
  const zones = cachedByTheme((id) => zoneStyles(recordOf(id)));
  const doubts = cachedByTheme((id) => uncertaintyStyles(recordOf(id)));
  const lines = cachedByTheme((key) => {
    const [id = "", style = ""] = key.split("\n");
    const r = recordOf(id);
    return r ? lineStyles(r.overlay, style) : undefined;
  });
  const marks = cachedByTheme((number) => crossingStyle(number));
  const flag = cachedByTheme(() => flagStyle());
  const rails = cachedByTheme(() => besideStyles());
  return (f) => {
    if (!shown(f)) return undefined;
    const id = boundedText(f.get("line")).split("/")[0] ?? "";
    switch (f.get("part")) {
      case "zone": return zones(id);
      case "uncertainty": return doubts(id);
      case "beside": return rails("");
      case "entry": return flag("");
      case "crossing": return marks(boundedText(f.get("number")) + (f.get("separation_m") === null ? "?" : ""));
      case "line": return lines(`${id}\n${lineKey(boundedText(f.get("quality_level")), f)}`);
      default: return undefined;
    }
  };
}

const edge = (color: string, width: number, lineDash: number[] = []) =>
  new Style({ stroke: new Stroke({ color, width, lineDash, lineCap: "butt", lineJoin: "round" }) });

function zoneStyles(r: RecordLayer | undefined): Style[] {
  if (!r) return [];
  const { colour, casing } = coloursOf(r.overlay);
  return [new Style({ fill: hatchFill(lineSymbol(r.overlay.utility, ""), colour) }), edge(casing, 4), edge(colour, 2, [12, 5])];
}

function uncertaintyStyles(r: RecordLayer | undefined): Style[] {
  if (!r) return [];
  const { colour, casing } = coloursOf(r.overlay);
  return [new Style({ fill: new Fill({ color: "rgba(0,0,0,0)" }) }), edge(`${casing}90`, 3), edge(colour, 1.5, [2, 6])];
}

/** The offset of the rails along lines beside each other, in pixels. */
const railOffset = 20;

// A pale band with a rail on both sides, under lines and zones, which stay as they are.
function besideStyles(): Style[] {
  const rail = (color: string, width: number) => [-railOffset, railOffset].map((offset) =>
    new Style({ stroke: new Stroke({ color, width: width * theme().weight, offset, lineCap: "butt", lineJoin: "round" }) }));
  return [edge(`${theme().paper}70`, 2 * railOffset), ...rail(theme().paper, 4), ...rail(theme().ink, 2)];
}

function crossingStyle(number: string): Style {
  const unknown = number.endsWith("?");
  return new Style({
    image: new CircleStyle({
      radius: 13, fill: new Fill({ color: theme().paper }), stroke: new Stroke({ color: theme().ink, width: 3, lineDash: unknown ? [4, 3] : [] }),
    }),
    text: new Text({ text: number, font: `800 13px ${font}`, fill: new Fill({ color: theme().ink }), offsetY: 1 }),
  });
}

// Beside the line, which stays visible.
function flagStyle(): Style[] {
  const at = (f: FeatureLike) => flagPoint(f.getGeometry() as Geometry | undefined);
  return [new Style({
    geometry: at,
    image: new RegularShape({
      points: 3, radius: 16, displacement: [16, 6], fill: new Fill({ color: theme().paper }), stroke: new Stroke({ color: theme().ink, width: 3, lineJoin: "round" }),
    }),
    text: new Text({ text: "!", font: `900 15px ${font}`, fill: new Fill({ color: theme().ink }), offsetX: 16, offsetY: -4 }),
  })];
}

/** The midpoint of a line's longest part, where its flag is. */
export function flagPoint(g: Geometry | undefined): Point | undefined {
  const parts = g instanceof MultiLineString ? g.getLineStrings() : g instanceof LineString ? [g] : [];
  const longest = parts.sort((a, b) => b.getLength() - a.getLength())[0];
  return longest && new Point(longest.getCoordinateAt(0.5));
}
