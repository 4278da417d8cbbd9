// The page with very many readings, in a slowed browser:
//   node test/big.mjs --url http://127.0.0.1:PORT --shots DIR [--bench]
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { loadavg } from "node:os";
import { parseArgs } from "node:util";
import { firstPaint, moveAbout, slowDown, watchFrames } from "./frames.mjs";
import { openPage, settled } from "./harness.mjs";

const { values } = parseArgs({ options: { url: { type: "string" }, shots: { type: "string" }, bench: { type: "boolean" } } });
const site = new URL(values.url);
await mkdir(values.shots, { recursive: true });
const phone = { name: "phone", width: 390, height: 844, density: 2, touch: false };
const desk = { name: "desk", width: 1440, height: 900, density: 1, touch: false };
for (const screen of [phone, desk]) {
  const { browser, page } = await openPage(screen);
  page.on("console", (m) => console.log("   ", m.text()));
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 60_000 });
  await settled(page);
  for (const [name, off] of [["with", false], ["without", true]]) {
    if (off) {
      if (screen === phone) await page.click("#show-layers");
      for (const box of await page.locator("input[data-overlay], input[data-known]").all()) await box.uncheck();
      if (screen === phone) await page.click("#sheet-close");
    }
    const cdp = await slowDown(page);
    const end = await watchFrames(page);
    await moveAbout(page, [17, 18.3, 20, 21.5]);
    const { gaps, long } = await end();
    await cdp.detach();
    await page.screenshot({ path: join(values.shots, `big-${screen.name}-${name}.png`) });
    console.log(screen.name, name, "gaps", gaps.slice(0, 8).map(Math.round).join(" "), "of", gaps.length, "long", long.slice(0, 8).map(Math.round).join(" "), "load", loadavg()[0].toFixed(1));
  }
  await browser.close();
}
