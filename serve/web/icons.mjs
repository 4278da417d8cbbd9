// Makes the icons that phones put on their home screens: pictures of the one drawing, src/shared/icon.svg.
import { readFile, writeFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join } from "node:path";
import { initWasm, Resvg } from "@resvg/resvg-wasm";

/** Each file: its side in pixels, and which share of it the drawing has; the rest is the drawing's ground. */
const icons = {
  "apple-touch-icon.png": { side: 180, share: 1 }, // the phone rounds the corners itself
  "icon-192.png": { side: 192, share: 1 },
  "icon-512.png": { side: 512, share: 1 },
  // Everything lies in a circle of 80 % of the side, whatever a phone cuts off (W3C Manifest, "maskable").
  "icon-maskable-512.png": { side: 512, share: 0.62 },
};

/** Writes all icons into a folder. */
export async function writeIcons(svgFile, folder) {
  await initWasm(await readFile(createRequire(import.meta.url).resolve("@resvg/resvg-wasm/index_bg.wasm")));
  const svg = await readFile(svgFile, "utf8");
  const [, side] = /viewBox="0 0 (\d+) \1"/.exec(svg) ?? [];
  const [, ground] = /fill="(#\w+)" d="M0 0h/.exec(svg) ?? [];
  if (side === undefined || ground === undefined) throw new Error(`${svgFile} has to be a square from 0 0 whose first path fills it`);
  for (const [name, icon] of Object.entries(icons)) {
    const whole = side / icon.share;
    const at = (side - whole) / 2;
    const framed = svg.replace(/viewBox="[^"]*"/, `viewBox="${at} ${at} ${whole} ${whole}"`);
    const drawn = new Resvg(framed, { background: ground, fitTo: { mode: "width", value: icon.side } }).render();
    await writeFile(join(folder, name), drawn.asPng());
  }
}
