// Proves the page in a real browser against a running field server:
//   node test/browser.mjs --url http://127.0.0.1:PORT --shots DIR [--whole] [PART…]
// The first pack must hold a line, and a reading with a depth.
import { mkdir, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, goTo, mapShot, mercator, openFound, openPage, settled, tally, tapMiddle, want } from "./harness.mjs";
import { coloursInMiddle, countColour } from "./pixels.mjs";
import { emptyChecks } from "./empty.mjs";
import { freeMapChecks } from "./freemap.mjs";
import { insetChecks } from "./insets.mjs";
import { inventedAnswers } from "./invented.mjs";
import { keyboardChecks } from "./keyboard.mjs";
import { oldBrowserChecks } from "./oldbrowser.mjs";
import { recordListChecks } from "./recordlist.mjs";
import { reachChecks } from "./reach.mjs";
import { zoomedInChecks } from "./zoomedin.mjs";
import { severalPicturesChecks } from "./severalpictures.mjs";
import { tieChecks } from "./ties.mjs";
import { toolChecks } from "./tools.mjs";

const { values, positionals: only } = parseArgs({ options: { url: { type: "string" }, shots: { type: "string" }, whole: { type: "boolean" } }, allowPositionals: true });
if (!values.url || !values.shots) {
  console.error("use: node test/browser.mjs --url http://127.0.0.1:PORT --shots DIR [PART…]");
  process.exit(2);
}
const site = new URL(values.url);
const answer = async (path) => {
  const r = await fetch(new URL(path, site));
  want(r.ok, `${path} answered ${r.status}`);
  return r.json();
};

/** What the server says it serves, asked for beside the page, to compare with. */
async function facts() {
  const { packs } = await answer("/packs.json");
  const about = await answer(packs[0].about);
  const { overlays } = await answer(about.overlays);
  const tiles = await answer(about.tilejson);
  const features = (await Promise.all(overlays.map((o) => answer(o.url)))).flatMap((o) => o.features);
  const reading = features.find((f) => f.geometry?.type === "Point" && Number.isFinite(f.properties?.depth_m));
  const line = features.find((f) => f.geometry?.type === "LineString");
  const readings = features.filter((f) => f.geometry?.type === "Point").map((f) => ({ at: f.geometry.coordinates.slice(0, 2), label: f.properties.label }));
  if (!reading || !line) throw new Error("the pack has no reading with a depth, or no line");
  return { about, overlays, tiles, reading, line, readings };
}

/** The depth as it must stand on screen, reckoned here on its own. */
function depthWords(metres, units) {
  if (units === "metric") return `${metres.toFixed(2)} m`;
  const inches = Math.round(metres / 0.0254);
  return inches < 12 ? `${inches}″` : `${Math.floor(inches / 12)}′ ${inches % 12}″`;
}

async function setLayers(page, screen, ids, on) {
  if (!screen.wide) await page.click("#show-layers");
  for (const id of ids) await page.locator(`input[data-overlay="${id}"]`).setChecked(on);
  if (!screen.wide) await page.click("#sheet-close");
  await settled(page);
}

async function pictureAndRecords(page, screen, f) {
  await check(`${screen.name}: the map is painted`, async () => {
    const n = coloursInMiddle(await mapShot(page));
    want(n > 60, `only ${n} colours in the middle of the map`);
  });
  await check(`${screen.name}: nothing lies on a reading's dot`, async () => {
    const shot = await mapShot(page);
    const at = await page.evaluate((all) => all.map((p) => window.groundsheet.map.getPixelFromCoordinate(p)), f.readings.map((r) => mercator(...r.at)));
    const colours = f.overlays.map((o) => [1, 3, 5].map((i) => parseInt(o.colour.slice(i, i + 2), 16)));
    const covered = f.readings.filter((_, i) => {
      // Above the middle, where a dot whose depth is not written has its sign.
      const [x, y] = [at[i][0], at[i][1] - 3].map((v) => Math.round(v * screen.density));
      if (x < 0 || y < 0 || x >= shot.width || y >= shot.height) return false;
      const under = shot.data.subarray((y * shot.width + x) * 4, (y * shot.width + x) * 4 + 3);
      return !colours.some((c) => c.every((v, k) => Math.abs(v - under[k]) < 40));
    });
    want(covered.length === 0, `covered: ${covered.map((r) => r.label).join(", ")}`);
  });
  await check(`${screen.name}: the first record's colour is drawn, and goes when it is put off`, async () => {
    const first = f.overlays[0];
    const same = f.overlays.filter((o) => o.colour.toLowerCase() === first.colour.toLowerCase()).map((o) => o.id);
    const before = countColour(await mapShot(page), first.colour, 12);
    want(before > 150, `only ${before} pixels of ${first.colour}`);
    await setLayers(page, screen, same, false);
    const after = countColour(await mapShot(page), first.colour, 12);
    want(after < before / 20, `${after} pixels of ${first.colour} left of ${before}`);
    await setLayers(page, screen, same, true);
  });
}

async function statements(page, screen, f) {
  await check(`${screen.name}: the scale has the job's unit`, async () => {
    const bar = await page.locator("#bar-text").textContent();
    const pixel = await page.locator("#pixel").textContent();
    const units = f.about.units === "us" ? /\d (in|ft|mi)$/ : /\d (mm|cm|m|km)$/;
    want(units.test(bar) && units.test(pixel), `“${bar}”, “${pixel}”`);
  });
  await check(`${screen.name}: the scale bar is true to the ground`, () => trueScale(page));
  await check(`${screen.name}: attribution, picture date and caution are in sight`, async () => {
    for (const id of ["#attribution", "#captured", "#caution-words"]) {
      want(await page.locator(id).isVisible(), `${id} is not in sight`);
      want((await page.locator(id).textContent()).trim() !== "", `${id} is empty`);
    }
    want((await page.locator("#captured").textContent()).includes(f.about.source.captured || "unknown"), "picture date missing");
    want((await page.locator("#attribution").textContent()).indexOf("<") === -1, "markup in the attribution");
  });
  await check(`${screen.name}: nothing is wider or higher than the screen`, async () => {
    const over = await page.evaluate(() => [document.documentElement.scrollWidth - innerWidth, document.documentElement.scrollHeight - innerHeight]);
    want(over.every((n) => n <= 0), `${over} pixels too much`);
  });
}

/** Compares the bar with a great-circle length between its two ends on the map. */
async function trueScale(page) {
  const metres = { in: 0.0254, ft: 0.3048, mi: 1609.344, cm: 0.01, m: 1, km: 1000 };
  const [n, unit] = (await page.locator("#bar-text").textContent()).split(" ");
  const ends = await page.evaluate(() => {
    const { map } = window.groundsheet;
    const width = document.getElementById("bar").getBoundingClientRect().width;
    const [w, h] = map.getSize();
    return [-0.5, 0.5].map((s) => map.getCoordinateFromPixel([w / 2 + s * width, h / 2]));
  });
  const r = 6378137;
  const [a, b] = ends.map(([x, y]) => [x / r, 2 * Math.atan(Math.exp(y / r)) - Math.PI / 2]);
  const ground = 2 * r * Math.asin(Math.abs(Math.cos(a[1]) * Math.sin((b[0] - a[0]) / 2)));
  const told = Number(n) * metres[unit];
  want(Math.abs(ground / told - 1) < 0.02, `the bar says ${told} m, the map ${ground} m`);
}

/** The first view owes no finer picture than it shows; the street round the job is a few zooms out. */
async function zooms(page, screen, f) {
  await check(`${screen.name}: the first view speaks of no enlargement where the pack goes deep enough`, async () => {
    const zoom = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
    const words = await page.locator("#pixel").textContent();
    want(zoom > f.tiles.maxzoom || !words.includes("enlarged"), `“${words}” at zoom ${zoom}`);
  });
  await check(`${screen.name}: the map zooms out to the shallowest picture, and one further`, async () => {
    const at = f.tiles.minzoom + Math.log2(f.about.tile_size / 256);
    const [lon, lat] = f.reading.geometry.coordinates;
    await goTo(page, [lon, lat], at - 1);
    const zoom = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
    want(Math.abs(zoom - at + 1) < 0.01, `it stopped at zoom ${zoom}`);
    await goTo(page, [lon, lat], at);
    want(coloursInMiddle(await mapShot(page)) > 30, "no picture at the shallowest zoom");
    await page.screenshot({ path: join(values.shots, `${screen.name}-street.png`) });
    await page.click("#whole-job");
    await settled(page);
  });
}

/** On a phone held sideways the sheet stands beside the map, and can be put away. */
async function sideways() {
  const screen = { name: "sideways", width: 844, height: 390, density: 2, touch: true };
  const { browser, page, complaints } = await openPage(screen);
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
  const mapBox = () => page.locator("#map").boundingBox();
  await page.screenshot({ path: join(values.shots, "sideways.png") });
  await check("sideways: the map has the screen but for a column and a line", async () => {
    const { width, height } = await mapBox();
    want(width > 740 && height > 330, `only ${width} × ${height} pixels`);
  });
  await check("sideways: the panel opens and closes", async () => {
    await page.click("#show-layers");
    const [map, sheet] = [await mapBox(), await page.locator("#sheet").boundingBox()];
    want(map.x + map.width - sheet.x - sheet.width > 500, "no panel beside the map");
    await settled(page);
    await page.screenshot({ path: join(values.shots, "sideways-layers.png") });
    await page.click("#sheet-close");
    want(!(await page.locator("#sheet").isVisible()), "the panel stays");
  });
  await check("sideways: nothing is wider or higher than the screen", async () => {
    const over = await page.evaluate(() => [document.documentElement.scrollWidth - innerWidth, document.documentElement.scrollHeight - innerHeight]);
    want(over.every((n) => n <= 0), `${over} pixels too much`);
  });
  await check("sideways: no complaint in the console", () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

async function reading(page, screen, f) {
  const [lon, lat] = f.reading.geometry.coordinates;
  await check(`${screen.name}: tapping a reading tells its depth`, async () => {
    await goTo(page, [lon, lat], Math.min(f.tiles.maxzoom + 1, 21));
    await tapMiddle(page, screen);
    const depth = depthWords(f.reading.properties.depth_m, f.about.units);
    await openFound(page, depth);
    const text = await page.locator("#sheet-body").innerText();
    want(text.includes(depth), `“${depth}” is not in “${text.slice(0, 300)}”`);
  });
  await check(`${screen.name}: the tapped reading is not under the sheet`, async () => {
    await page.waitForTimeout(400);
    const spot = await page.evaluate(([x, y]) => {
      const [left, top] = window.groundsheet.map.getPixelFromCoordinate([x, y]);
      const stage = document.getElementById("stage").getBoundingClientRect();
      return document.elementFromPoint(stage.left + left, stage.top + top)?.closest("#map, #sheet")?.id;
    }, mercator(lon, lat));
    want(spot === "map", `it lies under ${spot}`);
  });
  await page.screenshot({ path: join(values.shots, `${screen.name}-reading.png`) });
  await check(`${screen.name}: Escape closes the sheet`, async () => {
    await page.keyboard.press("Escape");
    await page.locator("#sheet-body .hit").first().waitFor({ state: "detached", timeout: 5000 }).catch(async () => {
      want(!(await page.locator("#sheet").isVisible()), "the sheet is still open");
    });
  });
}

/** A crossing tells in words which line is above, and that it does not know where it does not. */
async function crossings(page, screen, f) {
  const { features } = await answer(f.about.known);
  const all = features.filter((c) => c.properties.part === "crossing");
  for (const [name, one] of [["known", all.find((c) => c.properties.separation_m !== null)], ["unknown", all.find((c) => c.properties.separation_m === null)]]) {
    await check(`${screen.name}: a crossing whose depths are ${name} says so`, async () => {
      want(one !== undefined, "the pack has none");
      await goTo(page, one.geometry.coordinates, Math.min(f.tiles.maxzoom + 1, 21));
      await tapMiddle(page, screen);
      const list = await openFound(page, `Crossing ${one.properties.number}`);
      const text = (await page.locator("#sheet-body").innerText()).toLowerCase();
      want(text.includes(`crossing ${one.properties.number}`) && text.includes(one.properties.relation), text.slice(0, 400));
      want(list.includes("Tolerance zone"), "no word of the zone");
      await page.screenshot({ path: join(values.shots, `${screen.name}-crossing-${name}.png`) });
      await page.keyboard.press("Escape");
    });
  }
  await check(`${screen.name}: zones and crossings can be put off`, async () => {
    const on = await page.locator("#map").screenshot();
    if (!screen.wide) await page.click("#show-layers");
    for (const id of ["zones", "entries", "crossings"]) await page.locator(`input[data-derived="${id}"]`).setChecked(false);
    if (!screen.wide) await page.click("#sheet-close");
    await settled(page);
    want(!on.equals(await page.locator("#map").screenshot()), "nothing has changed on the map");
    if (!screen.wide) await page.click("#show-layers");
    for (const id of ["zones", "entries", "crossings"]) await page.locator(`input[data-derived="${id}"]`).setChecked(true);
    if (!screen.wide) await page.click("#sheet-close");
    await settled(page);
  });
}

async function enlarged(page, screen, f) {
  const [lon, lat] = f.reading.geometry.coordinates;
  await check(`${screen.name}: three zooms past the deepest there is still a picture, said to be enlarged`, async () => {
    await goTo(page, [lon + 2e-5, lat], f.tiles.maxzoom + 3);
    const zoom = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
    want(Math.abs(zoom - f.tiles.maxzoom - 3) < 0.01, `the map stopped at zoom ${zoom}`);
    const n = coloursInMiddle(await mapShot(page));
    want(n > 12, `only ${n} colours`);
    const told = page.locator("#pixel");
    want(await told.isVisible() && /enlarged (up to )?\d+×/.test(await told.textContent()), `“${await told.textContent()}”`);
    await trueScale(page);
  });
  await page.screenshot({ path: join(values.shots, `${screen.name}-enlarged.png`) });
}

async function keyboard(page, screen) {
  await check(`${screen.name}: Tab reaches every control`, async () => {
    const need = new Set(["map", "caution", "whole-job", "zoom-in", "zoom-out", "status", "position-open", "show-tools", ...(screen.wide ? [] : ["show-layers"])]);
    await page.evaluate(() => document.activeElement?.blur());
    for (let i = 0; i < 60 && need.size > 0; i++) {
      await page.keyboard.press("Tab");
      need.delete(await page.evaluate(() => document.activeElement?.id ?? ""));
    }
    want(need.size === 0, `not reached: ${[...need].join(", ")}`);
  });
  await check(`${screen.name}: controls are large enough for a glove`, async () => {
    const small = await page.evaluate(() => [...document.querySelectorAll("button, .records label")]
      .filter((b) => b.offsetParent !== null)
      .filter((b) => b.getBoundingClientRect().height < 44 || b.getBoundingClientRect().width < 44)
      .map((b) => b.id || b.textContent));
    want(small.length === 0, `smaller than 44 pixels: ${small.join(", ")}`);
  });
}

async function sheets(page, screen) {
  await check(`${screen.name}: the layers sheet says what an empty spot means`, async () => {
    if (!screen.wide) await page.click("#show-layers");
    const text = await page.locator("#sheet-body").innerText();
    want(text.includes("No line does not mean nothing is there."), "the statement is missing");
    await page.screenshot({ path: join(values.shots, `${screen.name}-layers.png`) });
    if (!screen.wide) await page.click("#sheet-close");
  });
  await check(`${screen.name}: the caution line opens all cautions`, async () => {
    await page.click("#caution");
    want(await page.locator("#sheet-body .cautions li").count() > 0, "no list of cautions");
    await page.screenshot({ path: join(values.shots, `${screen.name}-cautions.png`) });
    await page.click("#sheet-close");
  });
}

async function onScreen(screen, f) {
  const { browser, page, complaints, strangers } = await openPage(screen);
  await check(`${screen.name}: ready in 20 s`, async () => {
    const began = Date.now();
    await page.goto(site.href);
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    console.log(`     ready after ${Date.now() - began} ms`);
  });
  await page.screenshot({ path: join(values.shots, `${screen.name}.png`) });
  await zooms(page, screen, f);
  await pictureAndRecords(page, screen, f);
  await statements(page, screen, f);
  await sheets(page, screen);
  await keyboard(page, screen);
  await reading(page, screen, f);
  await crossings(page, screen, f);
  await enlarged(page, screen, f);
  await check(`${screen.name}: “Whole job” comes back to the area`, async () => {
    await page.click("#whole-job");
    await settled(page);
    const zoom = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
    want(zoom < f.tiles.maxzoom + 1.5, `still at zoom ${zoom}`);
  });
  await check(`${screen.name}: no complaint in the console`, () => want(complaints.length === 0, complaints.join(" | ")));
  await check(`${screen.name}: nothing asked of another host`, () => want(strangers.length === 0, strangers.join(" ")));
  await browser.close();
}

const parts = {
  phone: (f) => onScreen({ name: "phone", width: 390, height: 844, density: 2, touch: true, wide: false }, f),
  desk: (f) => onScreen({ name: "desk", width: 1440, height: 900, density: 1, touch: false, wide: true }, f),
  sideways,
  freemap: (f) => freeMapChecks(site, f, values.shots),
  empty: () => emptyChecks(site, values.shots),
  pictures: () => severalPicturesChecks(site, values.shots),
  invented: (f) => inventedAnswers(site, f, values.shots),
  tools: (f) => toolChecks(site, f, values.shots, values.whole),
  records: () => recordListChecks(site, values.shots),
  ties: (f) => tieChecks(site, f, values.shots),
  reach: (f) => reachChecks(site, f, values.shots),
  zoomedin: () => zoomedInChecks(site, values.shots),
  insets: () => insetChecks(site, values.shots),
  keyboard: (f) => keyboardChecks(site, f),
  oldbrowser: () => oldBrowserChecks(site),
};

await mkdir(values.shots, { recursive: true });
try {
  const unknown = only.filter((name) => !(name in parts));
  if (unknown.length > 0) throw new Error(`no part is called ${unknown.join(", ")}: there are ${Object.keys(parts).join(", ")}`);
  const f = await facts();
  const took = [];
  for (const [name, run] of Object.entries(parts)) {
    if (only.length > 0 && !only.includes(name)) continue;
    const began = Date.now();
    await run(f);
    took.push(`${name} ${Math.round((Date.now() - began) / 1000)} s`);
  }
  console.log(`     ${took.join(", ")}`);
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.message}`);
}
await writeFile(join(values.shots, "result.txt"), `${tally.passed} passed, ${tally.failed} failed\n`);
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
