// Proves in a real browser that a verdict reaches the phone within three seconds, in
// each look, against field servers that it starts itself:
//   node test/verdict.mjs --program bin/groundsheet --pack FILE.mbtiles --shots DIR
import { copyFile, mkdir, mkdtemp, readFile, rename, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { openBrowser } from "./chromium.mjs";
import { startServer } from "./fieldserver.mjs";
import { aboutJob, check, statusOf, tally, want } from "./harness.mjs";
import { violations } from "./tools.mjs";

const { values } = parseArgs({ options: { program: { type: "string" }, pack: { type: "string" }, shots: { type: "string" } } });
if (!values.program || !values.pack || !values.shots) {
  console.error("use: node test/verdict.mjs --program bin/groundsheet --pack FILE.mbtiles --shots DIR");
  process.exit(2);
}

const phone = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 2, hasTouch: true };
const looks = ["day", "night", "sun"];
const soon = { timeout: 3_000 };
const axe = await readFile(new URL("../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** A copy of the pack in which one image is damaged: not fit. */
async function damaged(path) {
  const data = await readFile(values.pack);
  const at = data.indexOf(Buffer.from([0xff, 0xd8, 0xff]), data.length >> 1);
  want(at > 0, "no image found in the pack");
  data.fill(0x55, at + 20, at + 120);
  await writeFile(path, data);
}

/** A copy of the pack whose ticket ended long ago; its seal is broken by that, so it is not fit either. */
async function ended(path) {
  const data = await readFile(values.pack);
  const mark = Buffer.from('"valid_until":"20');
  want(data.indexOf(mark) > 0, "the pack has no ticket");
  for (let at = data.indexOf(mark); at > 0; at = data.indexOf(mark, at + 1)) data.write("01", at + mark.length); // 2001; old bytes may lie in free room
  await writeFile(path, data);
}

async function shot(page, name) {
  await page.screenshot({ path: join(values.shots, `verdict-${name}.png`) });
  const found = await violations(page, axe);
  want(found.length === 0, `axe-core, ${name}: ${found.join(" | ")}`);
}

const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });

/** Waits until the laptop has a verdict on what it serves. */
async function checked(page, at, wanted) {
  for (let i = 0; i < 600; i++) {
    const { packs } = await (await page.request.get(`${at}/packs.json`)).json();
    if (packs.every((p) => wanted.includes(p.verdict.state))) return;
    await page.waitForTimeout(100);
  }
  throw new Error(`no verdict ${wanted}`);
}

/** Opens the map in a look. */
async function open(server, look, screen = phone) {
  const browser = await openBrowser(screen);
  const page = await browser.context.newPage();
  await page.goto(server.link);
  await ready(page);
  await page.evaluate((l) => (document.documentElement.dataset.theme = l), look);
  return { browser, page };
}

/** The line at the top says it in red, uncut, and aloud; the sheet that it opens says it whole. */
async function stands(page, short, whole) {
  const line = page.locator('#status[data-tone="bad"]');
  await line.filter({ hasText: short }).waitFor(soon);
  const box = await line.boundingBox();
  want(box.height >= 44 && box.y === 0 && box.x === 0 && box.width === phone.viewport.width, JSON.stringify(box));
  const lead = await page.locator("#status-lead").evaluate((e) => ({ text: e.innerText, cut: e.scrollWidth - e.clientWidth }));
  want(lead.text.includes(short) && lead.cut <= 0, JSON.stringify(lead));
  want((await page.locator("#status-aloud").innerText()).includes(whole), "it is not said aloud");
  want((await aboutJob(page)).includes(whole), "the sheet does not say it");
}

async function unfit(config, look) {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-verdict-"));
  await damaged(join(folder, "a.mbtiles"));
  const server = await startServer(values.program, folder, config);
  const { browser, page } = await open(server, look);
  await check(`${look}: a pack that is not fit is told in the line at the top, in its sheet and in Layers`, async () => {
    await checked(page, server.at, ["not fit"]);
    await stands(page, "NOT FIT: do not rely on it", "NOT FIT: do not rely on this pack. 1 fault:");
    await shot(page, `unfit-${look}`);
    await page.locator("#status").click();
    await page.locator("#sheet-body li").filter({ hasText: /tile/ }).waitFor(soon);
    await shot(page, `faults-${look}`);
    await page.locator("#sheet-close").click();
    await page.locator("#show-layers").click();
    await page.locator("#sheet-body dd.fault").filter({ hasText: "NOT FIT" }).waitFor(soon);
  });
  await browser.close();
  await server.stop();
  await rm(folder, { recursive: true });
}

async function exchanged(config, look) {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-verdict-"));
  const path = join(folder, "a.mbtiles");
  await copyFile(values.pack, path);
  const server = await startServer(values.program, folder, config);
  const { browser, page } = await open(server, look);
  await check(`${look}: a pack exchanged for one that is not fit is told on the open map`, async () => {
    await checked(page, server.at, ["fit"]);
    await page.waitForFunction(() => !document.getElementById("status").innerText.includes("Not checked yet"), null, soon);
    want((await statusOf(page)).tone !== "bad", "a fit pack is told in red");
    await damaged(`${path}.new`);
    await rename(`${path}.new`, path);
    await page.waitForTimeout(1_500); // until it takes over it is the old one's verdict that is read
    await checked(page, server.at, ["not fit"]);
    await stands(page, "The new pack is NOT FIT", "new pack of this job is NOT FIT");
    await shot(page, `exchanged-${look}`);
    await page.locator('#notices [data-notice="pack"]').click();
    await ready(page);
    await stands(page, "do not rely on it", "1 fault:");
  });
  await browser.close();
  await server.stop();
  await rm(folder, { recursive: true });
}

async function ticketAndList(config, look) {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-verdict-"));
  await ended(join(folder, "a.mbtiles"));
  await damaged(join(folder, "b.mbtiles"));
  const server = await startServer(values.program, folder, config);
  const browser = await openBrowser(phone);
  const page = await browser.context.newPage();
  await check(`${look}: the list of jobs tells which is not fit; a ticket that ended stands in the head`, async () => {
    await page.goto(server.link);
    await page.locator('body[data-state="choosing"]').waitFor({ timeout: 20_000 });
    await page.evaluate((l) => (document.documentElement.dataset.theme = l), look);
    await checked(page, server.at, ["fit", "not fit"]);
    await page.locator(".jobs .bad").filter({ hasText: "NOT FIT" }).first().waitFor(soon);
    await shot(page, `list-${look}`);
    await page.locator(".jobs button").first().click();
    await page.locator('#status[data-tone="bad"]').waitFor(soon);
    await page.waitForFunction(() => /EXPIRED/.test(document.getElementById("status-aloud").innerText), null, soon);
    await ready(page);
    await page.evaluate((l) => (document.documentElement.dataset.theme = l), look);
    await shot(page, `ticket-${look}`);
  });
  await browser.close();
  await server.stop();
  await rm(folder, { recursive: true });
}

await mkdir(values.shots, { recursive: true });
const config = await mkdtemp(join(tmpdir(), "groundsheet-config-"));
try {
  for (const look of looks) {
    await unfit(config, look);
    await exchanged(config, look);
    await ticketAndList(config, look);
  }
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.message}`);
}
await rm(config, { recursive: true });
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
