// How marks look: in the colors of their utility like records, and in a frame of their own, a diamond, that no record has.
// What is only on this phone has a broken frame.
import type { Utility } from "../../shared/lib/api";
import { theme } from "../../shared/lib/theme";
import { type Picture, sized } from "../../shared/records/marks";
import { unwrittenPicture } from "../../shared/records/pointmarks";
import { coloursOf, font } from "../../shared/records/symbology";
import type { Overlay } from "../../shared/lib/api";
import type { Kind } from "./entry";

/** From the middle of a mark to the corners of its frame, in pixels. */
export const frameRadius = 15;

/** The radius of the dot of a reading in it, and half the side of the square of a test hole. */
const markDot = 7;

/** What overlays have, for what paints them. */
export const overlayOf = (u: Utility): Overlay => ({
  ...u, id: "", title: "", quality_level: "", recorded: "", owner: "", record: "", accuracy_m: null, features: 0, url: "", note: "",
});

/** What stands in the frame: the dot of a reading, the square of a test hole, else a sign. */
const signs: Partial<Record<Kind, string>> = { "nothing found": "0", unlocatable: "?", "surface feature": "■" };

/** The sign of a depth that is not written, in the dot of a reading or under the middle of a test hole. */
export const unwrittenMark = (u: Utility, hole: boolean): Picture => unwrittenPicture(overlayOf(u), hole ? 0 : markDot, markDot - 2.3);

/** The picture of a mark; a hollow one lets the dot of a record show that lies in it. */
export function markPicture(u: Utility, kind: Kind, here: boolean, hollow = false): Picture {
  const { colour, casing } = coloursOf(overlayOf(u));
  const r = frameRadius;
  return sized({
    left: -r - 3, top: -r - 3, width: 2 * r + 6, height: 2 * r + 6,
    paint(context) {
      const { ink, paper } = theme();
      const diamond = (half: number) => {
        context.beginPath();
        context.moveTo(0, -half);
        context.lineTo(half, 0);
        context.lineTo(0, half);
        context.lineTo(-half, 0);
        context.closePath();
      };
      for (const [color, width, dash] of [[paper, 5, []], [ink, 2.5, here ? [4, 3.5] : []]] as const) {
        context.strokeStyle = color;
        context.lineWidth = width;
        context.setLineDash([...dash]);
        diamond(r);
        context.stroke();
      }
      context.setLineDash([]);
      if (hollow) {
        [context.strokeStyle, context.lineWidth] = [colour, 2.5];
        diamond(r - 4.5);
        return context.stroke();
      }
      const sign = signs[kind];
      const disc = (radius: number, color: string) => {
        context.fillStyle = color;
        context.beginPath();
        if (kind === "test hole") context.rect(-radius, -radius, 2 * radius, 2 * radius);
        else context.arc(0, 0, radius, 0, 2 * Math.PI);
        context.fill();
      };
      disc(markDot + 1.5, casing);
      disc(markDot, colour);
      if (kind === "test hole") {
        context.fillStyle = casing;
        context.fillRect(-2.5, -2.5, 5, 5);
      }
      if (sign === undefined) return;
      context.fillStyle = casing;
      context.font = `800 12px ${font}`;
      context.textAlign = "center";
      context.textBaseline = "middle";
      context.fillText(sign, 0, 0.5);
    },
  });
}
