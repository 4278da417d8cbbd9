// Photographs the page and a sheet of the brief for README.md:
//   node test/pictures.mjs --url http://127.0.0.1:PORT --brief FILE.html --to DIR --largest BYTES
import { join } from "node:path";
import { parseArgs } from "node:util";
import { pathToFileURL } from "node:url";
import { openBrowser } from "./chromium.mjs";
import { goTo, settled, tapMiddle } from "./harness.mjs";
import { small } from "./webp.mjs";

const { values } = parseArgs({ options: { url: { type: "string" }, brief: { type: "string" }, to: { type: "string" }, largest: { type: "string" } } });
if (!values.url || !values.brief || !values.to || !values.largest) {
  console.error("use: node test/pictures.mjs --url URL --brief FILE.html --to DIR --largest BYTES");
  process.exit(2);
}

const phone = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 1.5, hasTouch: true, timezoneId: "America/Denver", serviceWorkers: "block" };

/** The page in a look, as a phone that opens it for the first time. */
async function inLook(look, then) {
  const { context, close } = await openBrowser(phone);
  await context.addInitScript((name) => localStorage.setItem("groundsheet look", name), look);
  const page = await context.newPage();
  try {
    await page.goto(values.url);
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 30_000 });
    await settled(page);
    await then(page);
    await settled(page);
    await page.waitForTimeout(400); // what moves has come to rest
    await small(page, context, join(values.to, `${look}.webp`), Number(values.largest));
  } finally {
    await close();
  }
}

/** The place of the first reading with a depth. */
const aReading = (page) => page.evaluate(async () => {
  const { packs } = await (await fetch("/packs.json")).json();
  const { overlays } = await (await fetch((await (await fetch(packs[0].about)).json()).overlays)).json();
  for (const o of overlays) {
    const { features } = await (await fetch(o.url)).json();
    const found = features.find((f) => f.geometry?.type === "Point" && f.properties.depth_m);
    if (found) return found.geometry.coordinates;
  }
  throw new Error("the job has no reading with a depth");
});

await inLook("day", async () => undefined);
await inLook("sun", async (page) => {
  await goTo(page, await aReading(page), 21);
  await tapMiddle(page, { touch: true });
  await page.locator("#sheet.open").waitFor();
});
await inLook("night", async (page) => goTo(page, await aReading(page), 20.5));

const { context, close } = await openBrowser({ viewport: { width: 900, height: 1200 }, deviceScaleFactor: 1.5, bypassCSP: true });
try {
  const page = await context.newPage();
  await page.goto(pathToFileURL(values.brief).href);
  await small(page.locator("section.map").nth(1), context, join(values.to, "brief.webp"), Number(values.largest)); // the first is the overview
} finally {
  await close();
}
