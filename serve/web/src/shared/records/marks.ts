// What is drawn on the map: every kind of mark, and small pictures of those that stand at a place.
// A style is made here only, so that each has a kind, and the legend a row for each kind.
import { Style } from "ol/style";
import type { Options } from "ol/style/Style";
import { theme } from "../lib/theme";

/** All kinds of marks, in the order of the legend. */
export const markKinds = [
  "line", "letter", "state", "outline", "reading", "several", "test hole", "depth", "joined", "zone", "uncertainty",
  "crossing", "entry", "beside", "area", "margin", "chosen",
] as const;

export type MarkKind = (typeof markKinds)[number];

/** A style of one kind of mark. */
export const mark = (_: MarkKind, options: Options): Style => new Style(options);

/** A picture beside a place, in pixels of the screen; paint has the place at 0, 0. */
export interface Picture {
  left: number;
  top: number;
  width: number;
  height: number;
  paint(context: CanvasRenderingContext2D): void;
}

/** A picture enlarged as the theme wants it. */
export function sized({ left, top, width, height, paint }: Picture): Picture {
  const { size } = theme();
  return {
    left: left * size, top: top * size, width: width * size, height: height * size,
    paint(context) {
      context.scale(size, size);
      paint(context);
    },
  };
}

/** Draws a picture onto a canvas that is as large as it. */
function canvasOf({ left, top, width, height, paint }: Picture, ratio: number): HTMLCanvasElement {
  const canvas = document.createElement("canvas");
  canvas.width = Math.ceil(width * ratio);
  canvas.height = Math.ceil(height * ratio);
  const context = canvas.getContext("2d");
  if (context !== null) {
    context.scale(ratio, ratio);
    context.translate(-left, -top);
    paint(context);
  }
  return canvas;
}

/** A picture once it is drawn, for all styles that show it. */
export interface Drawn {
  canvas?: HTMLCanvasElement;
  ratio?: number;
}

/** A style that draws a picture at a point, or at many in one pass; a tap finds it where `found`. */
export function pictureMark(kind: MarkKind, picture: Picture, found: boolean, options: Options = {}, drawn: Drawn = {}): Style {
  // Of a collection also its lines come here.
  const places = (c: unknown, of: { getType(): string }): number[][] =>
    (of.getType() === "Point" ? [c as number[]] : of.getType() === "MultiPoint" ? c as number[][] : []);
  return mark(kind, {
    ...options,
    renderer(coordinates, { context, pixelRatio, geometry }) {
      if (drawn.ratio !== pixelRatio) [drawn.canvas, drawn.ratio] = [canvasOf(picture, pixelRatio), pixelRatio];
      const { canvas } = drawn;
      const { width, height } = context.canvas;
      if (canvas === undefined) return;
      for (const [x = 0, y = 0] of places(coordinates, geometry)) {
        // On whole pixels: fractions are several times slower.
        const [left, top] = [Math.round(x + picture.left * pixelRatio), Math.round(y + picture.top * pixelRatio)];
        if (left > -canvas.width && top > -canvas.height && left < width && top < height) context.drawImage(canvas, left, top);
      }
    },
    hitDetectionRenderer(coordinates, { context, geometry }) {
      if (!found) return;
      context.fillStyle = "#000000";
      for (const [x = 0, y = 0] of places(coordinates, geometry)) context.fillRect(x + picture.left, y + picture.top, picture.width, picture.height);
    },
  });
}
