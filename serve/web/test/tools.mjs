// Checks what one can do with the map: choose a look, measure, go to coordinates;
// and that a screen reader and a keyboard get along with all of it (axe-core).
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { everySheetOf } from "./everysheet.mjs";
import { check, goTo, mapShot, mercator, middleOf, noticesOf, openFound, openPage, settled, tapMiddle, want } from "./harness.mjs";
import { countColour } from "./pixels.mjs";

const screens = [
  { name: "phone", width: 390, height: 844, density: 2, touch: true, wide: false },
  { name: "tablet", width: 820, height: 1180, density: 2, touch: true, wide: false },
  { name: "desk", width: 1440, height: 900, density: 1, touch: false, wide: true },
];
const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
const zoomOf = (page) => page.evaluate(() => window.groundsheet.map.getView().getZoom());
const centreOf = (page) => page.evaluate(() => window.groundsheet.map.getView().getCenter());
/** Degrees for metres east and north of a place, roughly. */
const offset = ([lon, lat], east, north) => [lon + east / (111_320 * Math.cos((lat * Math.PI) / 180)), lat + north / 111_132];

async function open(site, screen, look = "") {
  const opened = await openPage(screen);
  if (look !== "") await opened.page.addInitScript((l) => localStorage.setItem("groundsheet look", l), look);
  await opened.page.goto(site.href);
  await ready(opened.page);
  await settled(opened.page);
  return opened;
}

const tool = async (page, name) => {
  await page.click("#show-tools");
  await page.locator("#sheet-body button", { hasText: name }).click();
};

/** Every violation that axe-core finds, in a line each. */
export async function violations(page, source) {
  await page.evaluate(source);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document));
  return violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.target.join(" ")} (${n.failureSummary.split("\n")[1]?.trim() ?? v.help})`));
}

/** All sheets in one look: axe finds nothing, targets are large, and each is photographed. */
async function everySheet(site, f, screen, look, axe, shots) {
  const { browser, page, complaints } = await open(site, screen, look);
  const at = async (name) => {
    await page.screenshot({ path: join(shots, `${screen.name}-${look}-${name}.png`) });
    await check(`${screen.name}, ${look}, ${name}: axe-core finds nothing`, async () => {
      const found = await violations(page, axe);
      want(found.length === 0, found.join(" | "));
    });
    await check(`${screen.name}, ${look}, ${name}: targets are large enough, nothing is too wide`, async () => {
      const small = await page.evaluate(() => [...document.querySelectorAll("button, select, input[type=text], .records label, .choices label")]
        .filter((b) => b.offsetParent !== null && (b.getBoundingClientRect().height < 44 || b.getBoundingClientRect().width < 44))
        .map((b) => b.id || b.textContent));
      want(small.length === 0, `smaller than 44 pixels: ${small.join(", ")}`);
      const over = await page.evaluate(() => Math.max(document.documentElement.scrollWidth - innerWidth,
        document.getElementById("sheet-body").scrollWidth - document.getElementById("sheet-body").clientWidth));
      want(over <= 0, `${over} pixels too wide`);
    });
  };
  const close = () => page.keyboard.press("Escape");
  await everySheetOf(page, at);
  await tool(page, "Coordinates");
  await page.fill("#place-typed", "40.5 -140.5");
  await at("coordinates");
  await page.fill("#place-typed", "over there");
  await at("not-understood");
  await close();
  await everyTie(page, f, at);
  const [lon, lat] = f.reading.geometry.coordinates;
  await goTo(page, [lon, lat], Math.min(f.tiles.maxzoom + 1, 21));
  await tapMiddle(page, screen);
  await page.locator("#sheet-body :is(.hit, .found)").first().waitFor({ timeout: 5000 });
  await at("found");
  await openFound(page);
  await at("record");
  await close();
  await tool(page, "Measure a length");
  await page.click("#measure-add");
  await goTo(page, offset([lon, lat], 6, 4), await zoomOf(page));
  await at("measure");
  await page.click("#measure-kind");
  await at("measure-area");
  await check(`${screen.name}, ${look}: no complaint in the console`, () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

/** The sheets of ties and offsets, empty and with results, and the bar to choose by. */
async function everyTie(page, f, at) {
  const [lon, lat] = f.reading.geometry.coordinates;
  const press = (words) => page.locator("#sheet-body button", { hasText: words }).click();
  await goTo(page, [lon, lat], 21);
  await tool(page, "Station and offset");
  await at("offset");
  await press("Mark a line");
  await at("choosing-line");
  for (const [east, north] of [[0, 0], [6, 8]]) {
    await goTo(page, offset([lon, lat], east, north), 21);
    await page.click("#pick-take");
    await page.waitForTimeout(150);
  }
  await page.click("#pick-done");
  await press("Add a point");
  await goTo(page, offset([lon, lat], 6, -3), 21);
  await page.click("#pick-take");
  await page.waitForTimeout(150);
  await page.click("#pick-done");
  await at("offset-told");
  await press("Clear all");
  await page.keyboard.press("Escape");
  await tool(page, "Ties");
  await at("ties");
  await press("Choose target");
  for (const [east, north] of [[0, 0], [-6, -5], [6, -4]]) {
    await goTo(page, offset([lon, lat], east, north), 21);
    if (east < 0) await at("choosing-tie");
    await page.click("#pick-take");
    await page.waitForTimeout(150);
  }
  await page.click("#pick-done");
  await at("ties-told");
  await press("Clear all");
  await page.keyboard.press("Escape");
}

async function looks(site, f) {
  const { browser, page } = await open(site, screens[0]);
  const lightOf = () => page.evaluate(() => document.documentElement.dataset.theme);
  await check("look: begins as the device asks, day here", async () => want(await lightOf() === "day", await lightOf()));
  await check("look: a device that asks for a dark page gets it", async () => {
    await page.emulateMedia({ colorScheme: "dark" });
    await page.waitForFunction(() => document.documentElement.dataset.theme === "night", null, { timeout: 3000 });
    await page.emulateMedia({ colorScheme: "light" });
  });
  // The records' own colours, by WCAG's contrast: colour against its casing, in no look changed.
  await check("look: each line stands out from its casing by 3 to 1, and is drawn in its own colour in every look", async () => {
    const light = (hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255)
      .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
    for (const o of f.overlays) {
      const [hi, lo] = [light(o.colour), light(o.casing)].sort((a, b) => b - a);
      want((hi + 0.05) / (lo + 0.05) >= 3, `${o.colour} on ${o.casing}`);
    }
    for (const look of ["Day", "Night", "Strong sun"]) {
      await page.click("#show-tools");
      await page.locator(".choices label", { hasText: look }).click();
      await page.click("#sheet-close");
      await settled(page);
      const shot = await mapShot(page);
      for (const o of f.overlays.slice(0, 1)) want(countColour(shot, o.colour, 12) > 150, `${o.colour} is not there by ${look}`);
    }
  });
  await check("look: kept for the next visit, and the picture can be had strong by night", async () => {
    await page.click("#show-tools");
    await page.locator(".choices label", { hasText: "Night" }).click();
    const dim = await mapShot(page);
    await page.locator("#faint-picture").uncheck();
    await page.click("#sheet-close");
    await page.reload();
    await ready(page);
    await settled(page);
    want(await lightOf() === "night", await lightOf());
    const mean = ({ data }) => data.reduce((s, v, i) => s + (i % 4 === 1 ? v : 0), 0) / (data.length / 4);
    want(mean(await mapShot(page)) > mean(dim) * 1.2, "the picture is as dim as before");
  });
  await browser.close();
}

async function measuring(site, f, screen) {
  const { browser, page } = await open(site, screen);
  const start = f.reading.geometry.coordinates;
  await goTo(page, start, 21);
  await tool(page, "Measure a length");
  const text = () => page.locator("#measure").innerText();
  const foot = 0.3048;
  await check(`measure, ${screen.name}: a length with the cross and the button, its fineness told`, async () => {
    await page.click("#measure-add");
    await goTo(page, offset(start, 30 * foot, 0), 21);
    await page.click("#measure-add");
    await goTo(page, offset(start, 30 * foot, 40 * foot), 21);
    const [, ft] = /Length ([\d.]+) ft/.exec(await text()) ?? [];
    want(Math.abs(ft - 70) < 0.4, await text());
    want(/each point ± [\d.]+ in at best/.test(await text()) && (await text()).includes("may be off by more"), await text());
  });
  await check(`measure, ${screen.name}: its line lies under all that is written, and how large a pixel is is told`, async () => {
    const [line, labels] = await page.evaluate(() => {
      const { map } = window.groundsheet;
      const center = map.getView().getCenter().join();
      const all = map.getAllLayers().filter((l) => l.getSource()?.getFeatures);
      const ends = (f) => f.getGeometry()?.getType() === "LineString" && f.getGeometry().getLastCoordinate().join() === center;
      const points = (f) => f.getGeometry()?.getType() === "Point" && f.get("depth_m") !== undefined;
      return [all.find((l) => l.getSource().getFeatures().some(ends))?.getZIndex(), Math.max(...all.filter((l) => l.getSource().getFeatures().some(points)).map((l) => l.getZIndex()))];
    });
    want(line < labels, `the line is at ${line}, depths at ${labels}`);
    want(await page.locator("#pixel").isVisible(), "the size of a pixel is not in sight");
  });
  await check(`measure, ${screen.name}: as area, and a point taken back`, async () => {
    await page.click("#measure-kind");
    const [, area] = /Area ([\d.,]+) sq ft/.exec(await text()) ?? [];
    want(Math.abs(Number(area.replace(",", "")) - 600) < 15, await text());
    await page.click("#measure-undo");
    want((await text()).includes("An area needs three points."), await text());
  });
  await check(`measure, ${screen.name}: a tap brings its place under the cross, and opens nothing`, async () => {
    const box = await page.locator("#map").boundingBox();
    const [x, y] = await middleOf(page);
    const at = [box.x + x + 60, box.y + y - 40];
    const before = await centreOf(page);
    await (screen.touch ? page.touchscreen.tap(...at) : page.mouse.click(...at));
    await page.waitForTimeout(700);
    const after = await centreOf(page);
    want(after[0] > before[0] && after[1] > before[1], "the map did not move");
    want(await page.locator("#sheet-body .hit").count() === 0, "a sheet opened");
  });
  await check(`measure, ${screen.name}: by keys, Enter adds, Backspace takes back, Escape ends`, async () => {
    await page.focus("#map");
    await page.keyboard.press("Enter");
    want((await text()).includes("2 points"), await text());
    await page.keyboard.press("Backspace");
    want((await text()).includes("1 point,"), await text());
    await page.keyboard.press("Escape");
    want(!(await page.locator("#measure").isVisible()), "it goes on");
    await tapMiddle(page, screen);
    await page.waitForTimeout(600);
  });
  await browser.close();
}

async function coordinates(site, f, screen) {
  const { browser, page } = await open(site, screen);
  const [lon, lat] = f.reading.geometry.coordinates;
  const type = (text) => page.fill("#place-typed", text);
  const told = () => page.locator(".understood").innerText();
  await tool(page, "Coordinates");
  await check(`coordinates, ${screen.name}: says what it understood before it goes`, async () => {
    const before = await centreOf(page);
    await type(`${lat.toFixed(7)} ${lon.toFixed(7)}`);
    want((await told()).includes("north") && (await told()).includes("On the job"), await told());
    want((await centreOf(page)).join() === before.join(), "the map moved already");
    await page.keyboard.press("Enter");
    await page.waitForTimeout(300);
    const [x, y] = await centreOf(page);
    const [u, v] = mercator(lon, lat);
    want(Math.hypot(x - u, y - v) < 0.05, `${x} ${y}, wanted ${u} ${v}`);
    want((await page.locator("#toast").innerText()).includes("no better than how they were measured"), "no word of how good it is");
  });
  await check(`coordinates, ${screen.name}: a west left away is offered where the pack is`, async () => {
    await tool(page, "Coordinates");
    await type(`${lat} ${Math.abs(lon)}`);
    const buttons = page.locator(".understood button");
    want(await buttons.count() === 2 && (await buttons.first().innerText()).includes("if you meant west"), await told());
    want(await buttons.nth(1).isDisabled() && /mi .*cannot be shown/.test(await buttons.nth(1).innerText()), await told());
  });
  await check(`coordinates, ${screen.name}: what makes no sense is told, and nothing goes`, async () => {
    await type("95N 105W");
    want((await told()).includes("90° at most"), await told());
    await page.keyboard.press("Enter");
    want(await page.locator("#place-typed").isVisible(), "it went");
  });
  await check(`coordinates, ${screen.name}: shown in the chosen form, which is kept, and read back`, async () => {
    await page.selectOption("#place-form", "mgrs");
    const shown = await page.locator(".coordinates dd span").first().innerText();
    want(/^\d+[A-Z] [A-Z]{2} \d{5} \d{5}$/.test(shown), shown);
    await type(shown);
    want((await told()).includes("a 1 m square"), await told());
    await page.keyboard.press("Escape");
    await goTo(page, offset([lon, lat], 18, 14), 21);
    await tapMiddle(page, screen);
    await page.waitForTimeout(600);
    const spot = await page.locator("#toast").innerText();
    if (spot !== "") want(/\d+[A-Z] [A-Z]{2} \d{5} \d{5}/.test(spot), spot);
    await tool(page, "Coordinates");
    want((await page.locator(".coordinates").innerText()).includes("Last tapped"), "the tapped place is not there");
    await page.locator(".coordinates button").first().click();
    await page.waitForTimeout(200);
    want(/Copied|Hold/.test(await page.locator(".coordinates button").first().innerText()), "no answer to Copy");
  });
  await browser.close();
}

/** Flags and crossings that find no room are told of. */
async function crowd(site, f) {
  const { browser, page } = await open(site, screens[0]);
  await check("crowded flags and crossings: told when left out, and not when all are drawn", async () => {
    const [lon, lat] = f.reading.geometry.coordinates;
    await goTo(page, [lon, lat], 17);
    want(/\d\s(!|crossings?)/.test((await noticesOf(page)).text), JSON.stringify(await noticesOf(page)));
    await page.click("#show-layers");
    for (const box of await page.locator("input[data-overlay]").all()) await box.uncheck(); // depths come first
    await page.click("#sheet-close");
    await settled(page);
    want(!/depth/.test((await noticesOf(page)).text), "told of depths that are off");
    if (!screens[0].wide) await page.click("#show-layers");
    for (const id of ["entries", "crossings"]) await page.locator(`input[data-derived="${id}"]`).setChecked(false);
    await page.click("#sheet-close");
    await settled(page);
    want(!/\d\s(!|crossings?)/.test((await noticesOf(page)).text), "told of what is off");
  });
  await browser.close();
}

/** Runs all checks of this file against a server with any pack. */
export async function toolChecks(site, f, shots, whole) {
  const axe = await readFile(new URL("../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
  await looks(site, f);
  for (const screen of [screens[0], screens[2]]) {
    await measuring(site, f, screen);
    await coordinates(site, f, screen);
  }
  await crowd(site, f);
  // Sizes come from the screen, colors from the look: each of them once; with `whole` each with each.
  for (const screen of screens) for (const look of whole || screen.name === "phone" ? ["day", "night", "sun"] : ["day"]) await everySheet(site, f, screen, look, axe, shots);
}
