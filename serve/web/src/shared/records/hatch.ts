// The hatch of polygons, which identifies a utility without color.
import { Fill } from "ol/style";
import type { LineSymbol } from "../lib/api";

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
