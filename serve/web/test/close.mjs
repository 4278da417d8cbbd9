// Readings so close together that their dots would touch, against a server whose pack holds them:
//   node test/close.mjs --url http://127.0.0.1:PORT --shots DIR
// Along their line the utility's color is what is seen, at every zoom and in every look.
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, goTo, mapShot, mercator, openPage, settled, tally, want } from "./harness.mjs";
import { colourAt } from "./pixels.mjs";

const { values } = parseArgs({ options: { url: { type: "string" }, shots: { type: "string" } } });
if (!values.url || !values.shots) {
  console.error("use: node test/close.mjs --url http://127.0.0.1:PORT --shots DIR");
  process.exit(2);
}
const site = new URL(values.url);
const phone = { name: "phone", width: 390, height: 844, density: 2, touch: true };
const answer = async (path) => (await fetch(new URL(path, site))).json();

/**
 * The least share of the color among pixels of color and casing, on the middle of the line. A line
 * of level B is dashes of 26 pixels with gaps of 8, in which its casing is seen: 26/34 = 0.76. Dots
 * on it add color, ends of ticks and letters take some; below 0.6 the color would no longer lead.
 */
const leastShare = 0.6;

async function readings() {
  const { packs } = await answer("/packs.json");
  const about = await answer(packs[0].about);
  for (const o of (await answer(about.overlays)).overlays) {
    const { features } = await answer(o.url);
    if (features.length < 200) continue;
    const lines = new Map();
    for (const f of features) lines.set(f.properties.line, [...(lines.get(f.properties.line) ?? []), f]);
    return { record: o, lines };
  }
  throw new Error("the pack has no record of many readings");
}

/** Pixels of the color and of the casing in the middle of the lines, where nothing of the page lies over the map. */
async function seen(page, { record, lines }) {
  const paths = [...lines.values()].map((all) => all.map((f) => mercator(...f.geometry.coordinates)));
  const onMap = await page.evaluate((all) => all.map((path) => path.map((at) => {
    const { map } = window.groundsheet;
    const pixel = map.getPixelFromCoordinate(at);
    const box = document.getElementById("map").getBoundingClientRect();
    const [x, y] = [box.left + pixel[0], box.top + pixel[1]];
    const free = document.elementFromPoint(x, y)?.closest(".ol-viewport") != null;
    return free ? pixel : null;
  })), paths);
  const image = await mapShot(page);
  const ratio = image.width / (await page.locator("#map").boundingBox()).width;
  const count = { colour: 0, casing: 0 };
  for (const path of onMap) {
    for (let i = 1; i < path.length; i++) {
      const [a, b] = [path[i - 1], path[i]];
      if (a === null || b === null) continue;
      const steps = Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) * ratio);
      for (let s = 0; s < steps; s++) {
        const [x, y] = [0, 1].map((k) => (a[k] + ((b[k] - a[k]) * s) / steps) * ratio);
        for (const aside of [-1.5, 0, 1.5]) {
          const at = [Math.min(image.width - 1, Math.max(0, x + aside * ratio)), Math.min(image.height - 1, Math.max(0, y))];
          if (colourAt(image, at, record.colour, 16)) count.colour++;
          else if (colourAt(image, at, record.casing, 16)) count.casing++;
        }
      }
    }
  }
  return { ...count, share: count.colour / Math.max(1, count.colour + count.casing) };
}

async function look(name, f) {
  const { browser, page, complaints } = await openPage(phone);
  await page.addInitScript((theme) => localStorage.setItem("groundsheet look", theme), name);
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 60_000 });
  // Numbers of crossings are written in ink, which may be as black as a casing.
  await page.evaluate(() => window.groundsheet.map.getLayers().forEach((l) => l.getZIndex() === 33 && l.setVisible(false)));
  await settled(page);
  const middle = [...f.lines.values()][1][48].geometry.coordinates;
  for (const zoom of ["whole job", 19, 20, 21, 22.5]) {
    await check(`close readings, ${name}, ${zoom}: the utility's color is what is seen along their line`, async () => {
      if (zoom !== "whole job") await goTo(page, middle, zoom);
      const { colour, casing, share } = await seen(page, f);
      await page.screenshot({ path: join(values.shots, `close-${name}-${String(zoom).replace(" ", "-")}.png`) });
      console.log(`     ${colour} pixels of the color, ${casing} of its casing: ${share.toFixed(2)}`);
      want(colour > 100, `only ${colour} pixels of the color`);
      // Near each other dots have rings; from 14 pixels on they are apart by themselves.
      if (zoom !== 22.5) want(share <= 0.85, `only ${casing} pixels between the dots: they run together`);
      want(share >= leastShare, `${share.toFixed(2)} of ${colour + casing} pixels`);
    });
  }
  await check(`close readings, ${name}: no complaint in the console`, () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

await mkdir(values.shots, { recursive: true });
try {
  const f = await readings();
  for (const name of ["day", "night", "sun"]) await look(name, f);
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.message}`);
}
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
