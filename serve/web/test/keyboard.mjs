// The whole page by keyboard alone (WCAG 2.2, 2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11): everything is
// reached, seen where it is reached, does its work, and gives the focus back.
import { check, goTo, openPage, settled, want } from "./harness.mjs";

const screens = [
  { name: "phone", width: 390, height: 844, density: 1, touch: true },
  { name: "desk", width: 1440, height: 900, density: 1, touch: false },
];

/** What has the focus: its name for people, whether it can be seen to have it, whether something covers it. */
const focused = (page) => page.evaluate(() => {
  const e = document.activeElement;
  if (e === null || e === document.body) return null;
  const style = getComputedStyle(e);
  const before = getComputedStyle(e, "::before");
  const r = e.getBoundingClientRect();
  const cut = { left: Math.max(r.left, 0), right: Math.min(r.right, innerWidth), top: Math.max(r.top, 0), bottom: Math.min(r.bottom, innerHeight) };
  const [x, y] = [(cut.left + cut.right) / 2, (cut.top + cut.bottom) / 2];
  const top = document.elementFromPoint(x, y);
  const radio = e.type === "radio" ? document.querySelectorAll(`input[name="${e.name}"]`) : [e];
  for (const one of radio) one.dataset.reached = "";
  const mine = top !== null && (e.contains(top) || [...(e.labels ?? [])].some((l) => l.contains(top)));
  return {
    name: e.id || e.getAttribute("aria-label") || e.textContent.trim().slice(0, 40) || e.tagName, inSheet: e.closest("#sheet") !== null,
    seen: parseFloat(style.outlineWidth) >= 2 && style.outlineStyle !== "none" || style.boxShadow !== "none" || before.borderStyle.includes("solid"),
    covered: !mine && e.id !== "map" && e.id !== "sheet-body" && e.id !== "sheet",
    at: [Math.round(x), Math.round(y)],
  };
});

/** Everything in sight that wants to be reached and was not. */
const left = (page, within) => page.evaluate((root) => [...document.querySelector(root).querySelectorAll("button, input, select, textarea, a[href], [tabindex='0']")]
  .filter((e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== "hidden" && !e.disabled && e.tabIndex >= 0 && e.dataset.reached === undefined)
  .map((e) => e.id || e.getAttribute("aria-label") || e.textContent.trim().slice(0, 40)), within);

/** Goes on with Tab until it comes round; gives what is wrong with any stop, and what was left out. */
async function walk(page, within = "body") {
  await page.evaluate(() => document.querySelectorAll("[data-reached]").forEach((e) => delete e.dataset.reached));
  const wrong = [];
  const stops = [];
  for (let i = 0; i < 150; i++) {
    await page.keyboard.press("Tab");
    const stop = await focused(page);
    if (stop === null || (stops.length > 3 && stop.name === stops[0])) break;
    if (within !== "body" && !stop.inSheet) break;
    stops.push(stop.name);
    if (!stop.seen) wrong.push(`${stop.name} has the focus and does not show it`);
    if (stop.covered) wrong.push(`${stop.name} has the focus and is covered, at ${stop.at}`);
  }
  want(stops.length > 0, "Tab reaches nothing");
  const missed = await left(page, within);
  if (missed.length > 0) wrong.push(`not reached: ${missed.join(", ")}; reached: ${stops.join(", ")}`);
  want(wrong.length === 0, wrong.join(" | "));
}

/** Presses Tab until a thing has the focus. */
async function tabTo(page, selector) {
  for (let i = 0; i < 150; i++) {
    if (await page.evaluate((s) => document.activeElement?.matches(s) === true, selector)) return;
    await page.keyboard.press("Tab");
  }
  throw new Error(`Tab does not come to ${selector}`);
}

const zoomOf = (page) => page.evaluate(() => window.groundsheet.map.getView().getZoom());
const isOpen = (page) => page.evaluate(() => document.querySelector("#sheet.open") !== null);

async function onScreen(site, f, screen) {
  const { browser, page, complaints } = await openPage(screen);
  const name = `by keyboard, ${screen.name}`;
  await page.goto(site.href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
  await settled(page);
  await check(`${name}: Tab comes to everything, seen and not covered`, () => walk(page));
  for (const opener of ["#status", "#caution", "#show-layers", "#show-records", "#show-tools", "#position-open"]) {
    if (!(await page.locator(opener).isVisible())) continue;
    await check(`${name}: ${opener.slice(1)} opens its sheet, all of it is reached, and Escape gives the focus back`, async () => {
      await tabTo(page, opener);
      await page.keyboard.press("Enter");
      await page.locator("#sheet.open").waitFor({ timeout: 5_000 });
      want(await page.evaluate(() => document.activeElement.closest("#sheet") !== null), "the focus is not in the sheet");
      await walk(page, "#sheet");
      await page.keyboard.press("Escape");
      want(!(await isOpen(page)), "Escape leaves it open");
      want(await page.evaluate((s) => document.activeElement.matches(s), opener), `the focus is at ${(await focused(page))?.name ?? "nothing"}`);
    });
  }
  await check(`${name}: a look is chosen with the arrows`, async () => {
    await tabTo(page, "#show-tools");
    await page.keyboard.press("Enter");
    await tabTo(page, "input[name=look]");
    await page.keyboard.press("ArrowDown");
    want(await page.evaluate(() => document.documentElement.dataset.theme) === "night", "it is not night");
    await page.keyboard.press("ArrowUp");
    await page.keyboard.press("Escape");
  });
  await check(`${name}: a layer is put off and on with the space bar`, async () => {
    if (screen.name === "phone") {
      await tabTo(page, "#show-layers");
      await page.keyboard.press("Enter");
    }
    await tabTo(page, "input[data-overlay]");
    await page.keyboard.press("Space");
    want(await page.evaluate(() => document.activeElement.checked === false), "it is on");
    await page.keyboard.press("Space");
    await page.keyboard.press("Escape");
  });
  await check(`${name}: the map moves by arrows, zooms by + and −, and Enter opens what is under the cross`, async () => {
    await goTo(page, f.reading.geometry.coordinates, 20);
    await tabTo(page, "#map");
    const zoom = await zoomOf(page);
    await page.keyboard.press("+");
    await page.waitForFunction((z) => window.groundsheet.map.getView().getZoom() > z + 0.5, zoom, { timeout: 3_000 });
    await page.keyboard.press("-");
    const before = await page.evaluate(() => window.groundsheet.map.getView().getCenter()[0]);
    await page.keyboard.press("ArrowRight");
    await page.waitForFunction((x) => window.groundsheet.map.getView().getCenter()[0] > x, before, { timeout: 3_000 });
    await goTo(page, f.reading.geometry.coordinates, 21);
    await page.keyboard.press("Enter");
    await page.locator("#sheet-body :is(.hit, .found)").first().waitFor({ timeout: 5_000 });
    if (await page.locator("#sheet-body .found").count() > 0) {
      await walk(page, "#sheet");
      await tabTo(page, "#sheet-body .found button");
      await page.keyboard.press("Enter");
      await page.locator("#sheet-body .hit").waitFor({ timeout: 5_000 });
    }
    await page.keyboard.press("Escape");
    want(await page.evaluate(() => document.activeElement.id === "map"), "the focus is not at the map again");
  });
  await check(`${name}: a record is found by its words and opened`, async () => {
    await tabTo(page, "#show-records");
    await page.keyboard.press("Enter");
    await tabTo(page, "#sheet-body input[type=search], #sheet-body input[type=text]");
    await page.keyboard.type("water");
    await tabTo(page, "#sheet-body .found button");
    await page.keyboard.press("Enter");
    await page.locator("#sheet-body .hit").first().waitFor({ timeout: 5_000 });
    await page.keyboard.press("Escape");
  });
  if (screen.name === "phone") {
    await check(`${name}: the sheet is made higher and lower, and closed, by the arrows at its grip`, async () => {
      const high = () => page.evaluate(() => document.getElementById("sheet").offsetHeight);
      await tabTo(page, "#show-layers");
      await page.keyboard.press("Enter");
      await tabTo(page, "#sheet-grip");
      const first = await high();
      await page.keyboard.press("ArrowUp");
      want(await high() > first, `${await high()} pixels, ${first} before`);
      await page.keyboard.press("ArrowDown");
      want(await high() === first, `${await high()} pixels, ${first} before`);
      await page.keyboard.press("ArrowDown");
      want(!(await isOpen(page)), "it stays open");
    });
  }
  await check(`${name}: no complaint in the console`, () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

/** Runs the walk on a server with any pack. */
export async function keyboardChecks(site, f) {
  for (const screen of screens) await onScreen(site, f, screen);
}
