// Makes the icons that phones put on their home screens: pictures of the one drawing, src/shared/icon.svg.
import { readFile, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { PNG } from "pngjs";

/** Each file: its side in pixels, and the share of it that the drawing has; the rest has the color of the drawing's ground. */
const icons = {
  "apple-touch-icon.png": { side: 180, share: 1 }, // the phone rounds the corners itself
  "icon-192.png": { side: 192, share: 1 },
  "icon-512.png": { side: 512, share: 1 },
  // Everything lies in a circle of 80 % of the side, whatever a phone cuts off (W3C Manifest, "maskable").
  "icon-maskable-512.png": { side: 512, share: 0.62 },
};
/** Samples across a pixel, for smooth edges. */
const fine = 4;

/** Writes all icons into a folder. */
export async function writeIcons(svgFile, folder) {
  const shapes = parse(await readFile(svgFile, "utf8"));
  for (const [name, { side, share }] of Object.entries(icons)) await writeFile(join(folder, name), paint(shapes, side, share));
}

/**
 * The shapes of the drawing, lowest first: a color, and whether a place is in it. It knows what the
 * drawing has, in a square of 32: a ground, rectangles, a dashed level line, and rings.
 */
export function parse(svg) {
  const shapes = [];
  for (const [, tag, text] of svg.matchAll(/<(?!svg|\/)(\w+) ([^>]*)\/>/g)) {
    const a = Object.fromEntries([...text.matchAll(/([\w-]+)="([^"]*)"/g)].map(([, k, v]) => [k, v]));
    const number = (name) => Number(a[name]);
    const [, rx, ry, w, h] = /^M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)[Hh]-?[\d.]+z$/.exec(a.d ?? "")?.map(Number) ?? [];
    const [, lx, ly, long] = /^M([\d.]+) ([\d.]+)h([\d.]+)$/.exec(a.d ?? "")?.map(Number) ?? [];
    if (tag === "path" && w !== undefined) {
      shapes.push({ color: a.fill, has: (x, y) => x >= rx && x < rx + w && y >= ry && y < ry + h });
    } else if (tag === "path" && long !== undefined) {
      const [dash, gap] = (a["stroke-dasharray"] ?? `${long} 0`).split(" ").map(Number);
      const half = number("stroke-width") / 2;
      shapes.push({ color: a.stroke, has: (x, y) => Math.abs(y - ly) < half && x >= lx && x < lx + long && (x - lx) % (dash + gap) < dash });
    } else if (tag === "circle") {
      const away = (x, y) => Math.hypot(x - number("cx"), y - number("cy")) - number("r");
      shapes.push({ color: a.fill, has: (x, y) => away(x, y) < 0 });
      shapes.push({ color: a.stroke, has: (x, y) => Math.abs(away(x, y)) < number("stroke-width") / 2 });
    } else {
      throw new Error(`icons.mjs cannot draw <${tag} ${text}>: teach it, or draw the icon of what it knows`);
    }
  }
  return shapes;
}

function paint(shapes, side, share) {
  const colors = shapes.map(({ color }) => [1, 3, 5].map((i) => parseInt(color.slice(i, i + 2), 16)));
  const png = new PNG({ width: side, height: side });
  const place = (pixel, sample) => 16 + (((pixel + (sample + 0.5) / fine) / side - 0.5) * 32) / share;
  for (let py = 0; py < side; py++) {
    for (let px = 0; px < side; px++) {
      const sum = [0, 0, 0];
      for (let s = 0; s < fine * fine; s++) {
        const [x, y] = [place(px, s % fine), place(py, Math.floor(s / fine))];
        const at = shapes.findLastIndex(({ has }) => has(x, y));
        for (const i of [0, 1, 2]) sum[i] += colors[Math.max(at, 0)][i]; // beside the drawing is its ground
      }
      png.data.set([...sum.map((v) => Math.round(v / (fine * fine))), 255], (py * side + px) * 4);
    }
  }
  return PNG.sync.write(png);
}
