// The page with very many readings, against a server whose pack holds them:
//   node test/big.mjs --url http://127.0.0.1:PORT --shots DIR [--bench]
// With --bench it prints the figures that the aims are stated for.
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { firstPaint, load, longestGaps, longestWork, moveAbout, slower, swipeAt, swipeCost } from "./frames.mjs";
import { largeListChecks } from "./recordlist.mjs";
import { check, goTo, noticesOf, openFound, openPage, settled, tally, tapMiddle, want } from "./harness.mjs";

const { values } = parseArgs({ options: { url: { type: "string" }, shots: { type: "string" }, bench: { type: "boolean" } } });
if (!values.url || !values.shots) {
  console.error("use: node test/big.mjs --url http://127.0.0.1:PORT --shots DIR [--bench]");
  process.exit(2);
}
const site = new URL(values.url);
const phone = { name: "phone", width: 390, height: 844, density: 3, touch: true };
const desk = { name: "desk", width: 1440, height: 900, density: 1, touch: false };
const zooms = [17, 18.3, 20, 21.5];

/** The aims: the first picture, and the longest frame, in ms on a processor four times slower. */
const aims = { painted: 1500, frame: 100 };

const answer = async (path) => (await fetch(new URL(path, site))).json();

/** The large record, and what the laptop says of it, asked for beside the page. */
async function facts() {
  const { packs } = await answer("/packs.json");
  const about = await answer(packs[0].about);
  const { overlays } = await answer(about.overlays);
  const large = overlays.find((o) => o.tilejson);
  want(large, "the pack has no large record");
  const all = (await answer(large.url)).features;
  const mean = (i) => all.reduce((sum, one) => sum + one.geometry.coordinates[i], 0) / all.length;
  const others = overlays.filter((o) => o !== large).reduce((sum, o) => sum + o.features, 0);
  return { large, all, others, middle: [mean(0), mean(1)], held: await answer(large.tilejson) };
}

async function opened(screen) {
  const { browser, page, complaints } = await openPage(screen);
  const asked = [];
  page.on("request", (r) => asked.push(new URL(r.url()).pathname));
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 60_000 });
  await settled(page);
  return { browser, page, complaints, asked };
}

/** Taps a place, and reads the list, if any, and the sheet of the record with a label. */
async function told(page, place, zoom, label) {
  await goTo(page, place, zoom);
  await page.waitForTimeout(400);
  await settled(page);
  await tapMiddle(page, phone);
  const list = await openFound(page, label);
  const text = await page.locator("#sheet").innerText();
  await page.keyboard.press("Escape");
  return `${list} ${text}`.replace(/\s+/g, " ");
}

async function records(f) {
  const { browser, page, complaints, asked } = await opened(phone);
  await page.screenshot({ path: join(values.shots, "big-phone.png") });
  await check("many readings: tiles are asked for, and never the whole", () => {
    want(asked.some((p) => p.endsWith(".mvt")), "no vector tile was asked for");
    want(!asked.includes(f.large.url), "the whole record was asked for");
  });
  await check("many readings: those left out are told of from afar, and near enough none is", async () => {
    await goTo(page, f.all[0].geometry.coordinates, 17);
    await page.waitForTimeout(1000);
    await settled(page);
    want(/[\d,]+ of about [\d,]+ records.* hidden · zoom in/.test((await noticesOf(page)).text), JSON.stringify(await noticesOf(page)));
    await goTo(page, f.middle, 16);
    await page.waitForTimeout(1000);
    await settled(page);
    const recorded = Number(/of about ([\d,]+) records/.exec((await noticesOf(page)).text)?.[1].replace(/,/g, ""));
    want(recorded >= f.all.length && recorded <= f.all.length + f.others, `${recorded} told, ${f.all.length} are there, and ${f.others} of other records`);
    await goTo(page, f.all[0].geometry.coordinates, 24);
    await page.waitForTimeout(1000);
    await settled(page);
    want(!(await noticesOf(page)).text.includes("records"), "told of at zoom 24");
  });
  for (const [name, zoom] of [["near", 23.5], ["far, where it is not drawn by itself", 18]]) {
    await check(`many readings: a tap tells the record itself, ${name}`, async () => {
      const one = f.all[Math.floor(f.all.length / 3)];
      const text = await told(page, one.geometry.coordinates, zoom, one.properties.label);
      want(text.includes(`reading ${one.properties.label}`), `no “${one.properties.label}” in “${text.slice(0, 300)}”`);
      want(text.includes(`Depth as written ${one.properties.depth}`), `no “${one.properties.depth}” in “${text.slice(0, 300)}”`);
      want(zoom > 20 || /\d+ records (here|nearby)/.test(text), text.slice(0, 80));
    });
  }
  await check("many readings: put off, none is drawn or told", async () => {
    await page.click("#show-layers");
    await page.locator(`input[data-overlay="${f.large.id}"]`).uncheck();
    await page.click("#sheet-close");
    await settled(page);
    const told = await noticesOf(page); // the dots of other records may give way to one another
    const recorded = Number(/of about ([\d,]+) records/.exec(told.text)?.[1].replaceAll(",", "") ?? 0);
    want(recorded < 100, JSON.stringify(told));
    await goTo(page, f.all[0].geometry.coordinates, 22);
    await tapMiddle(page, phone);
    await page.locator("#toast p").first().waitFor({ timeout: 5000 });
    want((await page.locator("#toast").innerText()).includes("layer is off"), await page.locator("#toast").innerText());
  });
  await check("many readings: no complaint in the console", () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

/** Out of reach of the laptop nothing is said of the ground. */
async function outOfReach(f) {
  const { browser, page } = await opened(phone);
  await check("many readings: a tap that gets no answer says so, and not that nothing is there", async () => {
    await goTo(page, f.all[0].geometry.coordinates, 22);
    await page.route("**/features?*near=*", (route) => route.abort());
    await tapMiddle(page, phone);
    await page.locator("#errorbar-words").getByText("did not answer").waitFor({ timeout: 5000 });
    want(!(await page.locator("#toast").innerText()).includes("Nothing"), "the page says that nothing is recorded");
  });
  await check("many readings: tiles that get no answer are told of, and come when asked for again", async () => {
    await page.route("**/*.mvt*", (route) => route.abort());
    await goTo(page, f.all[Math.floor(f.all.length / 2)].geometry.coordinates, 21);
    await page.locator("#errorbar-words").getByText("part of").waitFor({ timeout: 5000 });
    await page.unroute("**/*.mvt*");
    await page.click("#errorbar-again");
    await page.waitForTimeout(1500);
    await settled(page);
    const n = await page.evaluate((id) => window.groundsheet.map.getLayers().getArray()
      .filter((l) => l.getZIndex() >= 30 && l.getSource().getFeatures?.().length > 0).length, f.large.id);
    want(n > 0, "nothing is drawn");
  });
  await browser.close();
}

// Processor time, because a machine that others use too makes any gap longer.
// Twice the aim is let through: a shared machine slows even that.
async function frames(screen) {
  const { browser, page } = await opened(screen);
  const move = () => moveAbout(page, values.bench ? zooms : [18.3, 20]);
  const work = await longestWork(page, move);
  const frame = work[0] * slower;
  console.log(`     ${screen.name}: longest work ${work.slice(0, 5).map((v) => v.toFixed(1)).join(", ")} ms of processor time; at a quarter of the speed ${frame.toFixed(0)} ms, aim ${aims.frame}; ${load()}`);
  if (values.bench) {
    for (const zoom of zooms) {
      const cost = await swipeCost(page, zoom);
      const gaps = await longestGaps(page, () => swipeAt(page, zoom));
      console.log(`     ${screen.name}, zoom ${zoom}: ${cost.swipe.toFixed(0)} ms of processor time a swipe, the longest piece ${cost.work[0].toFixed(1)} ms, at a quarter of the speed ${(cost.work[0] * slower).toFixed(0)} ms; longest gaps between ${gaps.length} frames, slowed four times: ${gaps.slice(0, 4).map(Math.round).join(", ")} ms; ${load()}`);
    }
    for (const box of await page.locator("input[data-overlay], input[data-derived]").all()) await box.evaluate((b) => b.checked && b.click());
    const bare = await longestGaps(page, move);
    console.log(`     ${screen.name}: all zooms with no record on: longest gaps ${bare.slice(0, 6).map(Math.round).join(", ")} ms; ${load()}`);
  }
  await check(`many readings, ${screen.name}: no piece of work is longer than a frame may be`, () => want(frame < 3 * aims.frame, `${frame.toFixed(0)} ms`));
  await browser.close();
}

async function paint() {
  const times = [];
  for (let i = 0; i < (values.bench ? 5 : 2); i++) times.push(await firstPaint(site.href, phone));
  const best = Math.min(...times.map((t) => t.painted));
  console.log(`     first picture after ${times.map((t) => Math.round(t.painted)).join(", ")} ms, with records after ${times.map((t) => Math.round(t.ready)).join(", ")} ms; slowed four times, 10 Mbit/s; aim ${aims.painted}; ${load()}`);
  await check("first picture", () => want(best > 0 && best < 3 * aims.painted, `after ${Math.round(best)} ms`));
}

await mkdir(values.shots, { recursive: true });
try {
  const f = await facts();
  await check("many readings: the laptop tells how many there are", () => want(f.held.features === f.all.length && f.held.points, `${f.held.features} of ${f.all.length}`));
  await records(f);
  await outOfReach(f);
  await largeListChecks(site, { title: f.large.title, features: f.large.features }, values.shots);
  await frames(phone);
  await frames(desk);
  await paint();
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.message}`);
}
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
