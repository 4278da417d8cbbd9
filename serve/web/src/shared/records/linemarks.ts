// Lines of records: a casing under the color, with the ticks of the utility and the strokes of a
// state across them, and letters in gaps. All casings lie under all colors: none ever covers a
// color that names a utility.
import type { FeatureLike } from "ol/Feature";
import type { Geometry } from "ol/geom";
import type { Style } from "ol/style";
import type { LineSymbol, Overlay } from "../lib/api";
import { edgeOf, theme } from "../lib/theme";
import { denseWithin } from "./dots";
import { type Letter, type LetterPlaces, onCanvas, type Word } from "./letters";
import { type MarkKind, mark } from "./marks";
import { denseSpans, type Path, pathsOf, runsOn, runsWithin, type Span, trace } from "./path";
import { type Stage, stageOf } from "./stage";
import { lineLetters, stateSymbol } from "./statesymbols";
import { coloursOf, dashOf, font, lineCapOf, lineSymbol } from "./symbology";
import { traceTicks } from "./ticks";

/** The widths of a line's color, of its casing, and of ticks, in pixels. */
const lineWidth = 4.5;
const casingWidth = 8;
const tickWidth = 3.5;
const letterSize = 17;

/** Finds the places of letters for a resolution; null = the line has none. */
export type LettersAt = ((resolution: number) => LetterPlaces) | null;

/** What a line looks like. */
export interface LineLook {
  overlay: Overlay;
  level: string;
  state: string;
  letters: LettersAt;
  /** without the ticks of its utility, for a sample of what all have */
  plain?: boolean;
  /** whether its corners are readings: where these are dense it has neither ticks nor dashes, so that each dot is seen */
  readings?: boolean;
}

/** A line with what of it is in sight. */
interface Piece {
  path: Path;
  runs: ReturnType<typeof runsOn>;
  letters: Letter[];
  gaps: Span[];
  /** where it is drawn plainly */
  dense: Span[];
  /** whether ticks may be drawn at a place */
  clear?: ((x: number, y: number, long: number) => boolean) | undefined;
}

/** The style of a line's casing. */
export const casingMark = (kind: MarkKind, look: LineLook, zIndex = 0): Style => lineMark(kind, look, zIndex, paintCasing, false);
/** The style of a line's color. */
export const colourMark = (kind: MarkKind, look: LineLook, zIndex = 0): Style => lineMark(kind, look, zIndex, paintColour, true);

type Paint = (stage: Stage, pieces: Piece[], look: LineLook) => void;

function lineMark(kind: MarkKind, look: LineLook, zIndex: number, paint: Paint, found: boolean): Style {
  return mark(kind, {
    zIndex,
    renderer(_, state) {
      const stage = stageOf(state);
      paint(stage, piecesOf(state.geometry, state.feature, stage, look), look);
    },
    hitDetectionRenderer(coordinates, { context }) {
      if (found) traceHit(context, coordinates);
    },
  });
}

function piecesOf(geometry: Geometry, feature: FeatureLike, stage: Stage, look: LineLook): Piece[] {
  const places = look.letters?.(stage.resolution);
  const word = wordOf(look);
  return pathsOf(geometry).map((path, i) => {
    const runs = runsOn(path, stage);
    const letters = runs.length > 0 ? places?.on(feature, i, path, runs, word) ?? [] : [];
    const dense = look.readings === true && runs.length > 0 ? denseSpans(path, denseWithin * theme().size * stage.resolution) : [];
    return { path, runs, letters, gaps: letters.map((l) => l.gap), dense, clear: places && ((x, y, long) => places.hasTicks(x, y, long)) };
  });
}

/** The gaps of a line's ticks. */
const withoutTicks = ({ path, runs, gaps, dense, clear }: Piece) => ({ path, runs, gaps: [...gaps, ...dense], clear });

/** Paints a whole line onto a canvas: for the legend. */
export function paintLine(stage: Stage, path: Path, letters: Letter[], look: LineLook): void {
  const piece = { path, runs: runsOn(path, stage), letters, gaps: letters.map((l) => l.gap), dense: [] };
  paintCasing(stage, [piece], look);
  paintColour(stage, [piece], look);
}

function paintCasing(stage: Stage, pieces: Piece[], look: LineLook): void {
  const { casing } = coloursOf(look.overlay);
  const symbol = symbolOf(look);
  pen(stage, casing, casingWidth, "round");
  for (const p of pieces) {
    trace(stage, p.path, p.runs, p.gaps, []);
    traceTicks(stage, withoutTicks(p), symbol.ticks, symbol.every, dashOf(look.level));
  }
  const edge = edgeOf(casing);
  if (edge !== "") {
    stage.context.strokeStyle = edge;
    stage.context.lineWidth += 2 * stage.ratio;
    stage.context.stroke();
    stage.context.strokeStyle = casing;
    stage.context.lineWidth -= 2 * stage.ratio;
  }
  stage.context.stroke();
  strokes(stage, pieces, look, theme().paper, 7);
  write(stage, pieces, look, (context, text, x, y) => {
    context.strokeStyle = casing;
    context.lineWidth = 6 * theme().size * stage.ratio;
    context.lineJoin = "round";
    context.strokeText(text, x, y);
  });
}

function paintColour(stage: Stage, pieces: Piece[], look: LineLook): void {
  const { colour, casing } = coloursOf(look.overlay);
  const symbol = symbolOf(look);
  const dash = dashOf(look.level).map((d) => d * theme().weight * stage.resolution);
  const line = (color: string, width: number) => {
    pen(stage, color, width, lineCapOf(look.level));
    for (const p of pieces) {
      trace(stage, p.path, p.runs, [...p.gaps, ...p.dense].sort((a, b) => a[0] - b[0]), dash);
      trace(stage, p.path, runsWithin(p.runs, p.dense), p.gaps, []);
    }
    stage.context.stroke();
  };
  line(colour, lineWidth);
  if ((symbol.ticks ?? []).length > 0) {
    pen(stage, colour, tickWidth, "round");
    for (const p of pieces) traceTicks(stage, withoutTicks(p), symbol.ticks, symbol.every, dashOf(look.level));
    stage.context.stroke();
  }
  if (stateSymbol(look.state)?.hollow) line(casing, 1.8);
  strokes(stage, pieces, look, theme().ink, 3);
  write(stage, pieces, look, (context, text, x, y) => {
    context.fillStyle = colour;
    context.fillText(text, x, y);
  });
}

const symbolOf = ({ overlay, level, plain }: LineLook): Pick<LineSymbol, "ticks" | "every"> =>
  (plain ? { ticks: [], every: 0 } : lineSymbol(overlay.utility, level));

function pen({ context, ratio }: Stage, color: string, width: number, cap: "butt" | "round"): void {
  context.strokeStyle = color;
  context.lineWidth = width * theme().weight * ratio;
  context.lineCap = cap;
  context.lineJoin = "round";
  context.setLineDash([]);
  context.beginPath();
}

function strokes(stage: Stage, pieces: Piece[], { state, level }: LineLook, color: string, width: number): void {
  const symbol = stateSymbol(state);
  if (symbol === undefined || symbol.strokes.length === 0) return;
  pen(stage, color, width, "round");
  for (const p of pieces) traceTicks(stage, p, symbol.strokes, symbol.every, dashOf(level));
  stage.context.stroke();
}

const letterFont = (pixels: number): string => `800 ${pixels}px ${font}`;

function write(stage: Stage, pieces: Piece[], look: LineLook, put: (context: CanvasRenderingContext2D, text: string, x: number, y: number) => void): void {
  const { context, ratio } = stage;
  const text = lineLetters(look.overlay, look.state);
  context.font = letterFont(letterSize * theme().size * ratio);
  context.textAlign = "center";
  context.textBaseline = "middle";
  for (const p of pieces) {
    for (const l of p.letters) {
      const [x, y] = onCanvas(l, stage);
      context.translate(x, y);
      context.rotate(l.turn);
      put(context, text, 0, 0);
      context.rotate(-l.turn);
      context.translate(-x, -y);
    }
  }
}

const widths = new Map<string, number>();

/** The room of a line's letters in pixels of the placement, which grows with the theme. */
export function wordOf({ overlay, state }: LineLook): Word {
  const text = lineLetters(overlay, state);
  let width = widths.get(text);
  if (width === undefined) {
    const pen = document.createElement("canvas").getContext("2d");
    if (pen !== null) pen.font = letterFont(letterSize);
    widths.set(text, (width = pen?.measureText(text).width ?? 12 * text.length));
  }
  return { width: width + 6, height: letterSize + 2, every: state === "" ? 150 : 600, along: state !== "" };
}

/** Draws a line for a tap to find. */
export function traceHit(context: CanvasRenderingContext2D, coordinates: unknown): void {
  const isPlace = (c: unknown): c is number[] => Array.isArray(c) && typeof c[0] === "number";
  const draw = (c: unknown[]): void => {
    if (!isPlace(c[0])) return c.forEach((part) => Array.isArray(part) && draw(part));
    (c as number[][]).forEach(([x = 0, y = 0], i) => (i === 0 ? context.moveTo(x, y) : context.lineTo(x, y)));
  };
  context.strokeStyle = "#000000";
  context.lineWidth = casingWidth;
  context.setLineDash([]);
  context.beginPath();
  draw(coordinates as unknown[]);
  context.stroke();
}
