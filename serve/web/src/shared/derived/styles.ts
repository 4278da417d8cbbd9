// The map styles of derived features.
import type { FeatureLike } from "ol/Feature";
import { Point } from "ol/geom";
import { Fill, Stroke, type Style } from "ol/style";
import type { StyleFunction } from "ol/style/Style";
import { cachedByTheme, theme } from "../lib/theme";
import { crossingPicture, flagPicture, flagPlace, markLeader } from "../records/derivedmarks";
import { hatchFill } from "../records/hatch";
import type { RecordLayer } from "../records/layer";
import { casingMark, colourMark, traceHit } from "../records/linemarks";
import { type Drawn, type MarkKind, mark, pictureMark } from "../records/marks";
import type { FlagPlace } from "../records/flagplaces";
import type { MarkPlaces } from "../records/markplaces";
import { boundedText, numberOf } from "../records/record";
import { lineKey, lookOf } from "../records/styles";
import { coloursOf, lineSymbol } from "../records/symbology";

/** A zone narrower than this beside its line is not drawn: it would be a ladder of edges. Pixels. */
const narrowest = 12;

/** What the styles of derived features need to know. */
interface DerivedContext {
  recordOf(id: unknown): RecordLayer | undefined;
  /** whether the records of a feature are on */
  shown(f: FeatureLike): boolean;
  places: MarkPlaces;
  /** meters on the ground to a projected meter, at the job */
  ground(): number;
}

/** Whether a zone of some meters to each side is wide enough to be drawn. */
export const isZoneWide = (reach: number, resolution: number, ground: number): boolean => reach / (resolution * ground) >= narrowest;

/** The style of derived features. */
export function derivedStyle({ recordOf, shown, places, ground }: DerivedContext): StyleFunction {
  const zones = cachedByTheme((id) => zoneStyles(recordOf(id)));
  const doubts = cachedByTheme((id) => uncertaintyStyles(recordOf(id)));
  const marks = cachedByTheme((key) => crossingMarks(key));
  const drawn = cachedByTheme((): Drawn => ({})); // one for each look, wherever it stands
  const rails = cachedByTheme(() => besideStyles());
  const wide = (f: FeatureLike, resolution: number) => isZoneWide(numberOf(f, "reach_m") ?? Infinity, resolution, ground());
  return (f, resolution) => {
    if (!shown(f)) return undefined;
    const id = boundedText(f.get("line")).split("/")[0] ?? "";
    switch (f.get("part")) {
      case "zone": return wide(f, resolution) ? zones(id) : unseenFace;
      case "uncertainty": return wide(f, resolution) ? doubts(id) : unseenFace;
      case "beside": return rails("");
      case "entry": return flagMarks(f, places.flagAt(f, resolution), drawn);
      case "crossing": {
        const led = places.crossingAt(f, resolution);
        const number = boundedText(f.get("number")) + (f.get("separation_m") === null ? "?" : "");
        return led ? marks([number, ...led.to, led.from].join("|")) : unseenCrossing;
      }
      case "line": return unseenLine; // drawnLineStyle draws it
      default: return undefined;
    }
  };
}

/** The style of lines through readings. */
export function drawnLineStyle({ recordOf, shown, places }: DerivedContext): StyleFunction {
  const lines = cachedByTheme((key) => {
    const [id = "", style = ""] = key.split("\n");
    const overlay = recordOf(id)?.overlay;
    const look = overlay && { ...lookOf(overlay, style, places.lettersAt), readings: true };
    return look && [casingMark("joined", look), colourMark("joined", look, 1)];
  });
  return (f) => (f.get("part") === "line" && shown(f)
    ? lines(`${boundedText(f.get("line")).split("/")[0] ?? ""}\n${lineKey(boundedText(f.get("quality_level")), f)}`) : undefined);
}

const edge = (kind: MarkKind, color: string, width: number, lineDash: number[] = []) =>
  mark(kind, { stroke: new Stroke({ color, width, lineDash, lineCap: "butt", lineJoin: "round" }) });

export function zoneStyles(r: Pick<RecordLayer, "overlay"> | undefined): Style[] {
  if (!r) return [];
  const { colour, casing } = coloursOf(r.overlay);
  const { weight } = theme();
  return [mark("zone", { fill: hatchFill(lineSymbol(r.overlay.utility, ""), colour) }),
    edge("zone", `${casing}b0`, 3 * weight), edge("zone", colour, 1.5 * weight, [10 * weight, 7 * weight])];
}

export function uncertaintyStyles(r: Pick<RecordLayer, "overlay"> | undefined): Style[] {
  if (!r) return [];
  const { colour, casing } = coloursOf(r.overlay);
  const { weight } = theme();
  return [mark("uncertainty", { fill: new Fill({ color: "rgba(0,0,0,0)" }) }),
    edge("uncertainty", `${casing}90`, 3 * weight), edge("uncertainty", colour, 1.5 * weight, [2 * weight, 6 * weight])];
}

/** The offset of the rails along lines beside each other, in pixels. */
const railOffset = 20;

// A pale band with a rail on both sides, under lines and zones, which stay as they are.
export function besideStyles(): Style[] {
  const rail = (color: string, width: number) => [-railOffset, railOffset].map((offset) =>
    mark("beside", { stroke: new Stroke({ color, width: width * theme().weight, offset, lineCap: "butt", lineJoin: "round" }) }));
  return [edge("beside", `${theme().paper}70`, 2 * railOffset), ...rail(theme().paper, 4), ...rail(theme().ink, 2)];
}

/** What is too narrow or has no room is not seen; a tap finds it all the same. */
const unseenFace = mark("zone", {
  renderer: () => undefined,
  hitDetectionRenderer(coordinates, { context }) {
    const ring = (c: unknown): void => {
      if (!Array.isArray(c)) return;
      if (!Array.isArray(c[0]) || typeof c[0][0] !== "number") return c.forEach(ring);
      (c as number[][]).forEach(([x = 0, y = 0], i) => (i === 0 ? context.moveTo(x, y) : context.lineTo(x, y)));
      context.closePath();
    };
    context.fillStyle = "#000000";
    context.beginPath();
    ring(coordinates);
    context.fill("evenodd");
  },
});
const unseenLine = mark("joined", { renderer: () => undefined, hitDetectionRenderer: (coordinates, { context }) => traceHit(context, coordinates) });
const unseenAt = { left: -4, top: -4, width: 8, height: 8, paint: () => undefined };
const unseenCrossing = pictureMark("crossing", unseenAt, true);

/** A number at its crossing, or away from it with a line from where they cross. */
function crossingMarks(key: string): Style[] {
  const [number = "", right, down, from] = key.split("|");
  const to = [Number(right), Number(down)] as const;
  const disc = pictureMark("crossing", crossingPicture(number, number.endsWith("?"), to), true, { zIndex: 1 });
  return Math.hypot(...to) === 0 ? [disc] : [pictureMark("crossing", markLeader(to, Number(from)), false), disc, unseenCrossing];
}

/** A flag where it stands; one that is told by another's flag is found by a tap on that. */
function flagMarks(f: FeatureLike, place: FlagPlace | null, drawn: (key: string) => Drawn): Style[] {
  if (place === null) return [unseenLine];
  const { of, at, to, from, lines } = place;
  const geometry = new Point(at);
  if (of !== f) return [pictureMark("entry", flagPlace(to), true, { geometry })];
  const flag = pictureMark("entry", flagPicture(to, lines), true, { geometry, zIndex: 1 }, drawn(`${to}/${lines}`));
  return from < 0 ? [flag] : [pictureMark("entry", markLeader(to, from), false, { geometry }, drawn(`${to}|${from}`)), flag];
}
