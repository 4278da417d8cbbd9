// The marks of points: dots of readings, test holes, and labels with a letter and a depth. Edges
// are pictures of their own: they lie under the colors of all records.
import type { Style } from "ol/style";
import type { Overlay } from "../lib/api";
import { edgeOf, theme } from "../lib/theme";
import { dotEdge } from "./dots";
import { type Label, labelHeight } from "./boxes";
import { leaderEnd } from "./leaders";
import { type MarkKind, type Picture, pictureMark, sized } from "./marks";
import { coloursOf, font } from "./symbology";

const depthFont = `700 15px ${font}`;
/** From the edge of a label to its text, and from its letter to its depth, in pixels. */
const padding = 5;
/** Half the side of a test hole with its edge. */
export const testHoleRadius = 11;

const around = (radius: number, paint: Picture["paint"]): Picture => sized({ left: -radius - 1, top: -radius - 1, width: 2 * radius + 2, height: 2 * radius + 2, paint });

function disc(context: CanvasRenderingContext2D, radius: number, color: string): void {
  context.fillStyle = color;
  context.beginPath();
  context.arc(0, 0, radius, 0, 2 * Math.PI);
  context.fill();
}

export const dotPicture = (o: Overlay, radius: number): Picture => around(radius, (context) => disc(context, radius, coloursOf(o).colour));
/** A disc under a dot, with the theme's edge around it. */
const edgeDisc = (o: Overlay, radius: number): Picture => around(radius + 1, (context) => {
  const { casing } = coloursOf(o);
  if (edgeOf(casing) !== "") disc(context, radius + 1, edgeOf(casing));
  disc(context, radius, casing);
});
/** The same with its edge over its line: so that it is seen apart from others that are near. */
export const ringedDotPicture = (o: Overlay, radius: number): Picture => around(radius + dotEdge, (context) => {
  disc(context, radius + dotEdge, coloursOf(o).casing);
  disc(context, radius, coloursOf(o).colour);
});
export const dotEdgePicture = (o: Overlay, radius: number): Picture => edgeDisc(o, radius + dotEdge);

/** A dot that stands for several has a ring around it. */
export const ringPicture = (o: Overlay, radius: number): Picture => around(radius + 6, (context) => {
  const { colour } = coloursOf(o);
  disc(context, radius, colour);
  context.strokeStyle = colour;
  context.lineWidth = 2;
  context.beginPath();
  context.arc(0, 0, radius + 3.5, 0, 2 * Math.PI);
  context.stroke();
});
export const ringEdgePicture = (o: Overlay, radius: number): Picture => edgeDisc(o, radius + 6);

function box(context: CanvasRenderingContext2D, half: number, color: string): void {
  context.fillStyle = color;
  context.fillRect(-half, -half, 2 * half, 2 * half);
}

/** A test hole: a square with a dot. */
export const testHolePicture = (o: Overlay): Picture => around(testHoleRadius, (context) => {
  const { colour, casing } = coloursOf(o);
  box(context, testHoleRadius - 2, colour);
  disc(context, 3.5, casing);
});
export const testHoleEdgePicture = (o: Overlay): Picture => around(testHoleRadius, (context) => {
  const { casing } = coloursOf(o);
  if (edgeOf(casing) !== "") box(context, testHoleRadius + 1, edgeOf(casing));
  box(context, testHoleRadius, casing);
});

/**
 * In a dot, or a test hole (radius 0), whose depth is not written: three small dots, in a small one a finer one, so that its
 * color leads. In a test hole they lie that far under its middle.
 */
export const unwrittenPicture = (o: Overlay, radius: number, under = 6.2): Picture => around(testHoleRadius, (context) => {
  context.translate(0, radius === 0 ? under : 0);
  for (const x of radius === 0 || radius >= 6 ? [-3.6, 0, 3.6] : [0]) {
    context.fillStyle = coloursOf(o).casing;
    context.beginPath();
    context.arc(x, 0, radius === 0 || radius >= 6 ? 1.3 : 0.8, 0, 2 * Math.PI);
    context.fill();
  }
});

let pen: CanvasRenderingContext2D | null | undefined;
const widths = new Map<string, number>();

function textWidth(text: string): number {
  let width = widths.get(text);
  if (width === undefined) {
    pen ??= document.createElement("canvas").getContext("2d");
    if (pen) pen.font = depthFont;
    widths.set(text, (width = Math.ceil(pen?.measureText(text).width ?? text.length * 9)));
  }
  return width;
}

const apart = (text: string): [letter: string, depth: string] => [text.slice(0, text.indexOf(" ")), text.slice(text.indexOf(" ") + 1)];

/** The width of a label, "W 3′ 4″". */
export function depthWidth(text: string): number {
  const [letter, depth] = apart(text);
  return textWidth(letter) + textWidth(depth) + 4 * padding;
}

/** A label: the letter on the utility's color, the depth beside it, in a frame of ink. */
export function depthPicture(o: Overlay, text: string, left: number, top: number): Picture {
  const [right, bottom] = [left + depthWidth(text), top + labelHeight];
  const [letter, depth] = apart(text);
  const chip = textWidth(letter) + 2 * padding;
  return sized({
    left, top, width: right - left, height: bottom - top,
    paint(context) {
      const { colour, casing } = coloursOf(o);
      const { ink, paper } = theme();
      const fill = (color: string, x: number, width: number, inset: number) => {
        context.fillStyle = color;
        context.fillRect(x, top + inset, width, labelHeight - 2 * inset);
      };
      fill(ink, left, right - left, 0);
      fill(paper, left + 2, right - left - 4, 2);
      fill(colour, left + 2, chip - 2, 2);
      context.font = depthFont;
      context.textBaseline = "middle";
      context.fillStyle = casing;
      context.fillText(letter, left + padding + 0.5, (top + bottom) / 2 + 1);
      context.fillStyle = ink;
      context.fillText(depth, left + chip + padding, (top + bottom) / 2 + 1);
    },
  });
}

export const pointMark = (kind: MarkKind, picture: Picture, found: boolean, zIndex = 0): Style => pictureMark(kind, picture, found, { zIndex });

/** The line from a dot to its label where that does not touch it, in the utility's color. */
export function leaderPicture(o: Overlay, text: string, { left, top }: Pick<Label, "left" | "top">): Picture {
  const [x, y] = leaderEnd(left, top, depthWidth(text));
  const edge = 4;
  return sized({
    left: Math.min(0, x) - edge, top: Math.min(0, y) - edge, width: Math.abs(x) + 2 * edge, height: Math.abs(y) + 2 * edge,
    paint(context) {
      const { colour, casing } = coloursOf(o);
      for (const [color, width] of [[casing, 5], [colour, 2]] as const) {
        context.strokeStyle = color;
        context.lineWidth = width;
        context.beginPath();
        context.moveTo(0, 0);
        context.lineTo(x, y);
        context.stroke();
      }
    },
  });
}
