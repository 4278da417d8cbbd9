// Looks at screenshots: how many colours, and whether a given one is there.
import { PNG } from "pngjs";

/** Decodes a PNG to { width, height, data } with RGBA bytes. */
export const decode = (png) => PNG.sync.read(png);

/** How many distinct colours there are in the middle of an image, to 5 bits a channel. */
export function coloursInMiddle(image) {
  const { width, height, data } = image;
  const seen = new Set();
  for (let y = Math.floor(height / 4); y < (height * 3) / 4; y++) {
    for (let x = Math.floor(width / 4); x < (width * 3) / 4; x++) {
      const o = (y * width + x) * 4;
      seen.add(((data[o] >> 3) << 10) | ((data[o + 1] >> 3) << 5) | (data[o + 2] >> 3));
    }
  }
  return seen.size;
}

/** How many pixels are within `tolerance` of "#rrggbb" in every channel. */
export function countColour(image, hex, tolerance) {
  const want = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16));
  const { data } = image;
  let n = 0;
  for (let o = 0; o < data.length; o += 4) {
    if (want.every((w, i) => Math.abs(data[o + i] - w) <= tolerance)) n++;
  }
  return n;
}

const near = ({ width, data }, x, y, hex, tolerance) => [1, 3, 5]
  .every((i, c) => Math.abs(data[(y * width + x) * 4 + c] - parseInt(hex.slice(i, i + 2), 16)) <= tolerance);

/** Whether a pixel has a colour. */
export const colourAt = (image, [x, y], hex, tolerance) => near(image, Math.round(x), Math.round(y), hex, tolerance);

/** Which share of a row, from x1 to x2, has a colour. */
export function shareInRow(image, hex, x1, x2, y) {
  let n = 0;
  for (let x = x1; x < x2; x++) if (near(image, x, y, hex, 12)) n++;
  return n / (x2 - x1);
}
