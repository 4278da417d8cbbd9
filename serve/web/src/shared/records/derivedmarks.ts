// The marks of what is worked out: the number of a crossing, and the flag of a line that enters.
import { theme } from "../lib/theme";
import type { Box } from "./boxes";
import type { Offset } from "./leaders";
import { type Picture, sized } from "./marks";
import { font } from "./symbology";

/** Half the width of a crossing's mark with its edge, in pixels. */
export const crossingRadius = 14.5;

/** The number of a crossing, at it or away from it; with a broken edge where it is not known which line is above. */
export const crossingPicture = (number: string, unknown: boolean, [right, down]: Offset = [0, 0]): Picture => sized({
  left: right - crossingRadius - 1, top: down - crossingRadius - 1, width: 2 * crossingRadius + 2, height: 2 * crossingRadius + 2,
  paint(context) {
    const { ink, paper } = theme();
    context.translate(right, down);
    context.beginPath();
    context.arc(0, 0, crossingRadius - 1.5, 0, 2 * Math.PI);
    context.fillStyle = paper;
    context.fill();
    context.strokeStyle = ink;
    context.lineWidth = 3;
    context.setLineDash(unknown ? [4, 3] : []);
    context.stroke();
    write(context, number, number.length > 2 ? 11 : 13, 0, 1);
  },
});

/** The leader from a place to a mark away from it, from where on it covers nothing. */
export function markLeader([right, down]: Offset, from: number): Picture {
  const [left, top, edge] = [Math.min(0, right), Math.min(0, down), 4];
  return sized({
    left: left - edge, top: top - edge, width: Math.abs(right) + 2 * edge, height: Math.abs(down) + 2 * edge,
    paint(context) {
      const { ink, paper } = theme();
      const share = from / Math.hypot(right, down);
      context.lineCap = "round";
      for (const [color, width] of [[paper, 5], [ink, 2]] as const) {
        context.strokeStyle = color;
        context.lineWidth = width;
        context.beginPath();
        context.moveTo(right * share, down * share);
        context.lineTo(right, down);
        context.stroke();
      }
    },
  });
}

/** Where a flag stands beside its line. */
export const flagSides: Offset[] = [[16, -6], [-16, -6], [16, 10], [-16, 10], [0, -24]];

const flagHalf = 15;
/** From the middle of a flag to where its leader ends. */
export const flagReach = 14;

export const flagBox = (x: number, y: number, [right, down]: Offset): Box => [x + right - flagHalf, y + down - flagHalf, x + right + flagHalf, y + down + flagHalf - 3];

/** The place of a flag as a picture of nothing: for a tap to find. */
export const flagPlace = ([right, down]: Offset): Picture => sized({
  left: right - flagHalf - 2, top: down - flagHalf - 2, width: 2 * flagHalf + 4, height: 2 * flagHalf + 4, paint: () => undefined,
});

/** The flag of a line that enters the dig area, beside the line, which stays visible; with a number where it stands for several. */
export const flagPicture = ([right, down]: Offset, lines = 1): Picture => ({
  ...flagPlace([right, down]),
  paint(context) {
    const { ink, paper, size } = theme();
    context.scale(size, size);
    context.translate(right, down);
    context.beginPath();
    context.moveTo(0, -13);
    context.lineTo(14, 10);
    context.lineTo(-14, 10);
    context.closePath();
    context.lineJoin = "round";
    context.fillStyle = paper;
    context.fill();
    context.strokeStyle = ink;
    context.lineWidth = 3;
    context.stroke();
    if (lines > 1) write(context, `!${lines > 9 ? "+" : lines}`, 12, 0, 4);
    else write(context, "!", 15, 0, 3);
  },
});

function write(context: CanvasRenderingContext2D, text: string, size: number, x: number, y: number): void {
  context.font = `800 ${size}px ${font}`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  context.fillStyle = theme().ink;
  context.fillText(text, x, y);
}
