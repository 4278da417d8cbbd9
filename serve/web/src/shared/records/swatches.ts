// Samples of marks for lists and the legend, painted by what paints the map: they cannot differ.
import type { Style } from "ol/style";
import type { Overlay } from "../lib/api";
import { make } from "../lib/dom";
import { theme } from "../lib/theme";
import { paintLine, type LineLook, wordOf } from "./linemarks";
import type { Picture } from "./marks";
import { pathOf } from "./path";
import { dotEdgePicture, dotPicture } from "./pointmarks";
import type { Stage } from "./stage";

/** The ground under samples: the gray of a picture. */
const ground = "#6b7068";
const width = 84;
const height = 40;

type Paint = (context: CanvasRenderingContext2D, ratio: number) => void;

/** A sample that something paints; 0, 0 is its middle, in pixels of the screen. */
export function sample(paint: Paint): HTMLElement {
  const ratio = Math.min(3, Math.max(1, globalThis.devicePixelRatio || 1));
  const canvas = make("canvas", "swatch");
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  canvas.setAttribute("aria-hidden", "true");
  const context = canvas.getContext("2d");
  if (context !== null) {
    context.fillStyle = ground;
    context.fillRect(0, 0, canvas.width, canvas.height);
    context.translate(canvas.width / 2, canvas.height / 2);
    context.scale(ratio, ratio);
    paint(context, ratio);
  }
  return canvas;
}

/** A sample of pictures, one over the other, each moved from the middle. */
export const pictureSample = (...pictures: [Picture, x?: number, y?: number][]): HTMLElement => sample((context) => {
  for (const [picture, x = 0, y = 0] of pictures) {
    context.save();
    context.translate(x, y);
    picture.paint(context);
    context.restore();
  }
});

/** A sample of a line, with its letters where there is room for them. */
export const lineSample = (look: LineLook, lettered: boolean): HTMLElement => sample((context, ratio) => {
  context.setTransform(1, 0, 0, 1, 0, 0);
  const stage: Stage = { context, ratio, resolution: 1, scale: ratio, left: 0, top: height };
  const half = wordOf(look).width / 2 * theme().size + 2;
  const path = pathOf([-60, height / 2, width + 60, height / 2], 0, 4, 2);
  const letters = lettered ? [{ x: width / 2, y: height / 2, turn: 0, gap: [60 + width / 2 - half, 60 + width / 2 + half] as [number, number] }] : [];
  paintLine(stage, path, letters, look);
});

/** A sample of styles that are strokes and fills: a box, a line, or a ring of points. */
export const styleSample = (styles: Style[], shape: "box" | "line"): HTMLElement => sample((context) => {
  for (const s of styles) {
    const stroke = s.getStroke();
    const offset = stroke?.getOffset() ?? 0;
    context.beginPath();
    if (shape === "box") context.rect(-34, -12, 68, 24);
    else {
      context.moveTo(-50, offset);
      context.lineTo(50, offset);
    }
    const fill = s.getFill()?.getColor();
    if (fill) {
      context.fillStyle = fill as string | CanvasPattern;
      context.fill();
    }
    if (!stroke) continue;
    context.strokeStyle = stroke.getColor() as string;
    context.lineWidth = stroke.getWidth() ?? 1;
    context.lineCap = "butt";
    context.lineJoin = stroke.getLineJoin() ?? "round";
    context.setLineDash(stroke.getLineDash() ?? []);
    context.stroke();
  }
});

/** A sample of a record's line with its letter. */
export const lineSwatch = (overlay: Overlay, level: string): HTMLElement => named("line", lineSample({ overlay, level, state: "", letters: null }, true));

/** A sample of a record's points. */
export const pointSwatch = (o: Overlay): HTMLElement => named("points", pictureSample([dotEdgePicture(o, 8)], [dotPicture(o, 8)]));

function named(name: string, e: HTMLElement): HTMLElement {
  e.dataset.sample = name;
  return e;
}
