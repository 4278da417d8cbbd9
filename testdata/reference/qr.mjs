// Reads a QR code out of rows of 0 (light) and 1 (dark) on stdin, one module a
// sign, drawn eight pixels wide, and prints its text. Reader: npm jsqr.
import jsqr from "jsqr";
import { readFileSync } from "node:fs";

const rows = readFileSync(0, "utf8").trim().split("\n");
const each = 8;
const width = rows[0].length * each;
const height = rows.length * each;
const pixels = new Uint8ClampedArray(width * height * 4);
for (let y = 0; y < height; y++) {
  for (let x = 0; x < width; x++) {
    const dark = rows[Math.floor(y / each)][Math.floor(x / each)] === "1";
    pixels.set(dark ? [0, 0, 0, 255] : [255, 255, 255, 255], (y * width + x) * 4);
  }
}
const found = (jsqr.default ?? jsqr)(pixels, width, height, { inversionAttempts: "dontInvert" });
if (!found) throw new Error("no QR code was found");
process.stdout.write(found.data);
