// The marks of what is worked out: the number of a crossing, and the flag of a line that enters.
import { theme } from "../lib/theme";
import type { Box } from "./labelplacement";
import { type Picture, sized } from "./marks";
import { font } from "./symbology";

/** Half the width of a crossing's mark with its edge, in pixels. */
export const crossingRadius = 14.5;

/** The number of a crossing; with a broken edge where it is not known which line is above. */
export const crossingPicture = (number: string, unknown: boolean): Picture => sized({
  left: -crossingRadius - 1, top: -crossingRadius - 1, width: 2 * crossingRadius + 2, height: 2 * crossingRadius + 2,
  paint(context) {
    const { ink, paper } = theme();
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

/** Where a flag stands beside its line. */
export type FlagSide = readonly [right: number, down: number];
export const flagSides: FlagSide[] = [[16, -6], [-16, -6], [16, 10], [-16, 10], [0, -24]];

const flagHalf = 15;

export const flagBox = (x: number, y: number, [right, down]: FlagSide): Box => [x + right - flagHalf, y + down - flagHalf, x + right + flagHalf, y + down + flagHalf - 3];

/** The flag of a line that enters the dig area: beside the line, which stays visible. */
export const flagPicture = ([right, down]: FlagSide): Picture => sized({
  left: right - flagHalf - 2, top: down - flagHalf - 2, width: 2 * flagHalf + 4, height: 2 * flagHalf + 4,
  paint(context) {
    const { ink, paper } = theme();
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
    write(context, "!", 15, 0, 3);
  },
});

function write(context: CanvasRenderingContext2D, text: string, size: number, x: number, y: number): void {
  context.font = `800 ${size}px ${font}`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  context.fillStyle = theme().ink;
  context.fillText(text, x, y);
}
