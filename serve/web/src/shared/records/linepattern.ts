// The pattern of a utility, which identifies it without color: ticks across its lines, and the hatch of its polygons.
import type { Coordinate } from "ol/coordinate";
import type { State } from "ol/render";
import { Fill, Style } from "ol/style";
import type { LineSymbol } from "../lib/api";
import { theme } from "../lib/theme";

/** A style that draws the ticks of a symbol along lines; null for a symbol without ticks. */
export function tickStyle(look: LineSymbol, colour: string, casing: string): Style | null {
  if (!look.ticks || look.ticks.length === 0 || !(look.every >= 8)) return null;
  return new Style({
    renderer: (coordinates, state) => {
      const lines = isLine(coordinates) ? [coordinates] : (coordinates as Coordinate[][]);
      for (const [width, colourNow] of [[7, casing], [3, colour]] as const) {
        state.context.lineWidth = width * theme().weight * state.pixelRatio;
        state.context.strokeStyle = colourNow;
        state.context.lineCap = "round";
        state.context.setLineDash([]);
        state.context.beginPath();
        for (const line of lines) if (isLine(line)) traceTicks(line, look, state);
        state.context.stroke();
      }
    },
  });
}

function isLine(c: unknown): c is Coordinate[] {
  return Array.isArray(c) && Array.isArray(c[0]) && typeof c[0][0] === "number";
}

// Draws only what is on the canvas: a long line has ten thousand ticks.
function traceTicks(line: Coordinate[], look: LineSymbol, { context, pixelRatio }: State): void {
  const { width, height } = context.canvas;
  const every = look.every * pixelRatio;
  let done = 0;
  for (let i = 1; i < line.length; i++) {
    const [x, y] = line[i - 1] as [number, number];
    const [u, v] = line[i] as [number, number];
    const long = Math.hypot(u - x, v - y);
    const [dx, dy] = long > 0 ? [(u - x) / long, (v - y) / long] : [1, 0];
    const near = Math.max(x < u ? -x : x - width, y < v ? -y : y - height, 0); // nothing of the line before this is on the canvas
    const end = Math.min(long, near + 2 * (width + height));
    for (const t of look.ticks ?? []) {
      const at = t.at * pixelRatio;
      const first = Math.ceil((done + near - every / 2 - at) / every) * every + every / 2 + at - done;
      for (let s = first; s <= end; s += every) {
        if (s >= 0) tickStroke(context, x + s * dx, y + s * dy, Math.atan2(dy, dx), t, pixelRatio);
      }
    }
    done += long;
  }
}

function tickStroke(context: CanvasRenderingContext2D, x: number, y: number, along: number, t: NonNullable<LineSymbol["ticks"]>[number], ratio: number): void {
  const angle = along + ((90 + t.lean) * Math.PI) / 180;
  const [dx, dy] = [Math.cos(angle) * t.length * ratio, Math.sin(angle) * t.length * ratio];
  context.moveTo(t.left ? x - dx : x, t.left ? y - dy : y);
  context.lineTo(t.right ? x + dx : x, (t.right ? y + dy : y) + (t.length === 0 ? 0.01 : 0));
}

/** A light hatch in a color; angles are rounded to 45 degrees. */
export function hatchFill({ hatch }: LineSymbol, colour: string): Fill {
  const gap = Math.min(40, Math.max(4, Math.round(2 * hatch.gap)));
  const tile = document.createElement("canvas");
  tile.width = tile.height = gap;
  const context = tile.getContext("2d");
  if (context === null) return new Fill({ color: `${colour}20` });
  context.strokeStyle = `${colour}70`;
  context.lineWidth = 1.2;
  context.beginPath();
  for (const angle of hatch.crossed ? [hatch.angle, hatch.angle + 90] : [hatch.angle]) lines(context, gap, angle);
  context.stroke();
  return new Fill({ color: context.createPattern(tile, "repeat") ?? `${colour}20` });
}

function lines(context: CanvasRenderingContext2D, gap: number, angle: number): void {
  const turn = (((Math.round(angle / 45) % 4) + 4) % 4) * 45;
  const from = (x: number, y: number, u: number, v: number) => {
    context.moveTo(x, y);
    context.lineTo(u, v);
  };
  if (turn === 0) from(0, gap / 2, gap, gap / 2);
  else if (turn === 90) from(gap / 2, 0, gap / 2, gap);
  else {
    for (const shift of [-gap, 0, gap]) { // the corners of the neighbors too, or the lines have gaps
      if (turn === 45) from(shift, gap, shift + gap, 0);
      else from(shift, 0, shift + gap, gap);
    }
  }
}
