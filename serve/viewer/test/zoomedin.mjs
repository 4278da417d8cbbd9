// Checks the page at 200 %: zoomed in that far a phone has half of its pixels (WCAG 2.2, 1.4.4 and 1.4.10).
import { join } from "node:path";
import { check, openPage, want } from "./harness.mjs";

/** Nothing is cut off sideways, the map keeps its room, and a sheet can be opened and closed. */
export async function zoomedInChecks(site, shots) {
  const { browser, page } = await openPage({ width: 195, height: 422, density: 4, touch: true });
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
  await check("200 %: no control lies outside the page, and the map has room", async () => {
    const [outside, room] = await page.evaluate(() => [
      [...document.querySelectorAll("button")].filter((b) => b.offsetParent !== null && b.getBoundingClientRect().right > innerWidth + 1).map((b) => b.id),
      document.getElementById("map").clientHeight - document.getElementById("over").clientHeight,
    ]);
    want(outside.length === 0, `outside: ${outside.join(", ")}`);
    want(room > 200, `${room} pixels of the map are seen`);
  });
  await check("200 %: the buttons are at hand, and what they open can be closed", async () => {
    const inSight = (id) => page.locator(id).evaluate((e) => {
      const r = e.getBoundingClientRect();
      return document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2)?.closest("button") === e;
    });
    for (const id of ["#zoom-in", "#zoom-out", "#show-layers", "#show-tools"]) want(await inSight(id), `${id} is not in sight`);
    await page.locator("#show-tools").tap();
    want(await inSight("#sheet-close"), "Close is not in sight");
    await page.screenshot({ path: join(shots, "zoomed-in.png") });
    await page.locator("#sheet-close").tap();
  });
  await browser.close();
}
