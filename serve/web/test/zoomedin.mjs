// Checks the page where there is little room: at 200 %, which leaves a phone half of its
// pixels (WCAG 2.2, 1.4.4 and 1.4.10), with large text, and on a small phone.
import { join } from "node:path";
import { check, openPage, want } from "./harness.mjs";

const screens = [
  { name: "200 %", width: 195, height: 422, density: 4, touch: true, room: 200 },
  { name: "200 %, on its side", width: 422, height: 195, density: 4, touch: true, room: 90 },
  { name: "text twice as large", width: 390, height: 844, density: 2, touch: true, room: 420, text: "200%" },
  { name: "text twice as large, on its side", width: 844, height: 390, density: 2, touch: true, room: 100, text: "200%" },
  { name: "a small phone in strong sun", width: 320, height: 568, density: 2, touch: true, room: 80, contrast: "more" },
];

/** Nothing is cut off sideways, the map keeps its room, and a sheet can be opened and closed. */
export async function zoomedInChecks(site, shots) {
  for (const screen of screens) await zoomedIn(site, shots, screen);
}

async function zoomedIn(site, shots, screen) {
  const { browser, page } = await openPage(screen);
  if (screen.contrast) await page.emulateMedia({ contrast: screen.contrast });
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
  if (screen.text) await page.evaluate((size) => { document.documentElement.style.fontSize = size; }, screen.text);
  await check(`${screen.name}: no control lies outside the page, and the map has room`, async () => {
    await page.locator("#map").evaluate((map) => map.scrollIntoView({ block: "start" }));
    const [outside, room] = await page.evaluate(() => [
      [...document.querySelectorAll("button")].filter((b) => b.offsetParent !== null && b.getBoundingClientRect().right > innerWidth + 1).map((b) => b.id),
      Math.min(document.getElementById("map").getBoundingClientRect().bottom, innerHeight) - document.getElementById("over").getBoundingClientRect().bottom,
    ]);
    want(outside.length === 0, `outside: ${outside.join(", ")}`);
    want(room >= screen.room, `${room} pixels of the map are seen`);
  });
  await check(`${screen.name}: the buttons are at hand, and what they open can be closed`, async () => {
    const inSight = (id) => page.locator(id).evaluate((e) => {
      const r = e.getBoundingClientRect();
      return document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2)?.closest("button") === e;
    });
    await page.evaluate((down) => scrollTo(0, down), screen.text ? 1e6 : 0); // zoomed in they stay in sight, else they are at the end
    for (const id of ["#zoom-in", "#zoom-out", "#show-layers", "#show-tools"]) want(await inSight(id), `${id} is not in sight`);
    await page.locator("#show-tools").tap();
    want(await inSight("#sheet-close"), "Close is not in sight");
    await page.screenshot({ path: join(shots, `zoomed-in-${screen.width}.png`) });
    await page.locator("#sheet-close").tap();
  });
  await browser.close();
}
