// Photographs the page and a sheet of the brief for README.md:
//   node test/pictures.mjs --url http://127.0.0.1:PORT --brief FILE.html --to DIR --largest BYTES
import { writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { pathToFileURL } from "node:url";
import { openBrowser } from "./chromium.mjs";
import { goTo, settled, tapMiddle } from "./harness.mjs";

const { values } = parseArgs({ options: { url: { type: "string" }, brief: { type: "string" }, to: { type: "string" }, largest: { type: "string" } } });
if (!values.url || !values.brief || !values.to || !values.largest) {
  console.error("use: node test/pictures.mjs --url URL --brief FILE.html --to DIR --largest BYTES");
  process.exit(2);
}

const phone = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 1.5, hasTouch: true, timezoneId: "America/Denver", serviceWorkers: "block" };

/** A WebP of at most so many bytes, as good as that allows. */
async function small(target, context, name) {
  const blank = await context.newPage(); // without the page's own policy
  const png = (await target.screenshot()).toString("base64");
  for (let quality = 0.9; quality >= 0.3; quality -= 0.05) {
    const coded = await blank.evaluate(async ([text, q]) => {
      const image = new Image();
      image.src = `data:image/png;base64,${text}`;
      await image.decode();
      const canvas = Object.assign(document.createElement("canvas"), { width: image.width, height: image.height });
      canvas.getContext("2d").drawImage(image, 0, 0);
      return canvas.toDataURL("image/webp", q).split(",")[1];
    }, [png, quality]);
    const picture = Buffer.from(coded, "base64");
    if (picture.length > Number(values.largest)) continue;
    await writeFile(join(values.to, name), picture);
    console.log(`${name}: ${picture.length} bytes at quality ${quality.toFixed(2)}`);
    return;
  }
  throw new Error(`${name} is larger than ${values.largest} bytes at any quality`);
}

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
    await small(page, context, `${look}.webp`);
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
  await small(page.locator("section.map").nth(1), context, "brief.webp"); // the first is the overview
} finally {
  await close();
}
