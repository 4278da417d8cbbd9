// Checks ties, stations and offsets in the browser: by touch on a phone, by keyboard alone at a desk.
import { check, goTo, mercator, openPage, settled, want } from "./harness.mjs";

const screens = {
  phone: { name: "phone", width: 390, height: 844, density: 2, touch: true },
  desk: { name: "desk", width: 1440, height: 900, density: 1, touch: false },
};
const foot = 0.3048;
/** Degrees for meters east and north of a place, roughly. */
const offset = ([lon, lat], east, north) => [lon + east / (111_320 * Math.cos((lat * Math.PI) / 180)), lat + north / 111_132];

async function open(site, screen) {
  const opened = await openPage(screen);
  await opened.page.goto(site.href);
  await opened.page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
  await settled(opened.page);
  return opened;
}

const tool = async (page, name) => {
  await page.click("#show-tools");
  await page.locator("#sheet-body button b", { hasText: new RegExp(`^${name}$`) }).click();
};
const sheet = (page) => page.locator("#sheet-body").innerText();
const bar = (page) => page.locator("#pick").innerText();
/** How many features a sketch has drawn, by their kind. */
const drawn = (page, kind) => page.evaluate((k) => window.groundsheet.map.getAllLayers().flatMap((l) => l.getSource().getFeatures?.() ?? [])
  .filter((f) => f.get("kind") === k).length, kind);

async function byTouch(site, f, shots) {
  const { browser, page, complaints } = await open(site, screens.phone);
  const reading = f.reading.geometry.coordinates;
  const press = (id) => page.locator(id).tap();
  await check("ties, by touch: a reading is the target, by a tap near it", async () => {
    await goTo(page, offset(reading, 2, 1), 21);
    await tool(page, "Ties");
    want((await sheet(page)).includes("not the pipe"), await sheet(page));
    await page.locator("#sheet-body button", { hasText: "Choose target" }).tap();
    const [px, py] = await page.evaluate((at) => {
      const box = document.getElementById("map").getBoundingClientRect();
      const [right, down] = window.groundsheet.map.getPixelFromCoordinate(at);
      return [box.left + right, box.top + down];
    }, mercator(...reading));
    await page.touchscreen.tap(px + 5, py - 4);
    await page.waitForTimeout(900);
    want(/depth/.test(await bar(page)), await bar(page));
    await press("#pick-take");
    await page.waitForTimeout(200);
    want((await bar(page)).includes("Tie 1: "), await bar(page));
  });
  await check("ties, by touch: three ties from the picture, each with its tape", async () => {
    for (const [i, [east, north]] of [[-5 * foot, -20 * foot], [-30 * foot, 25 * foot], [25 * foot, 10 * foot]].entries()) {
      await goTo(page, offset(reading, east, north), 21);
      await page.waitForTimeout(200);
      if (i === 0) want(/Tie 1: (20|21)′ \d+″ ±/.test(await bar(page)), await bar(page));
      await press("#pick-take");
      await page.waitForTimeout(200);
    }
    want(!(await page.locator("#pick").isVisible()), "it goes on");
    const text = await sheet(page);
    for (const part of [/Tie 3/, /Swing of ties 1 and \d: the tapes cut at \d+°/, /on the (left|right)/, /not there/, /Tie \d (tells|does not tell|reads)/, /slope reads longer/]) want(part.test(text), `${part} is not in ${text}`);
    want(await drawn(page, "tape") === 3 && await drawn(page, "arc") === 2, "it is not drawn");
    await page.screenshot({ path: `${shots}/ties-phone-sheet.png` });
  });
  await check("ties, by touch: they stay when other sheets open and after a reload; names and text", async () => {
    await page.locator("#sheet-body input").first().fill("hydrant");
    await page.locator("#sheet-body button", { hasText: /^Copy$/ }).tap();
    await page.waitForTimeout(200);
    want(/Copied|Hold/.test(await sheet(page)), "no answer to Copy");
    await page.locator("#sheet-close").tap();
    await page.screenshot({ path: `${shots}/ties-phone-map.png` });
    await press("#show-layers");
    want(await drawn(page, "tape") === 3, "gone with a sheet");
    await page.locator("#sheet-close").tap();
    await page.reload();
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    want(await drawn(page, "tape") === 3, "gone after a reload");
    await tool(page, "Ties");
    want((await sheet(page)).includes("Tie 1: hydrant"), await sheet(page));
    await page.locator("#sheet-body button", { hasText: "Clear all" }).tap();
    want(await drawn(page, "tape") === 0, "not cleared");
    await page.reload();
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    want(await drawn(page, "target") === 0, "back after a reload");
  });
  await check("ties, by touch: no complaint in the console", () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

async function byKeyboard(site, f, shots) {
  const { browser, page, complaints } = await open(site, screens.desk);
  const far = ([lon, lat]) => Math.hypot(lon - f.reading.geometry.coordinates[0], lat - f.reading.geometry.coordinates[1]);
  const corner = [...f.line.geometry.coordinates].sort((a, b) => far(a) - far(b))[0]; // one that the map can show
  /** Walks by Tab to a button with these words, and presses it. */
  const press = async (words) => {
    for (let i = 0; i < 80; i++) {
      const here = await page.evaluate(() => document.activeElement?.tagName === "BUTTON" ? document.activeElement.innerText : "");
      if (here.includes(words)) return page.keyboard.press("Enter");
      await page.keyboard.press("Tab");
    }
    throw new Error(`no button ${words} by Tab`);
  };
  await check("offset, by keys alone: a recorded line under the cross", async () => {
    await goTo(page, corner, 20);
    await press("Tools");
    await press("Station and offset");
    await press("Choose a recorded line");
    await page.waitForTimeout(600);
    await page.keyboard.press("Shift+ArrowRight");
    await page.waitForTimeout(600);
    want(!(await bar(page)).includes("No recorded line"), await bar(page));
    await page.keyboard.press("Enter");
    await page.waitForTimeout(400);
    const text = await sheet(page);
    want(/From 0\+00\.0 to \d+\+\d\d\.\d/.test(text), text);
  });
  await check("offset, by keys alone: a point, told live, taken, and the ends swapped", async () => {
    await press("Add a point");
    await page.keyboard.press("ArrowUp");
    await page.waitForTimeout(800);
    want(/\d\+\d\d\.\d/.test(await bar(page)) && /(left|right) of the line|on the line/.test(await bar(page)), await bar(page));
    await page.keyboard.press("Enter");
    await page.waitForTimeout(300);
    await page.keyboard.press("Escape");
    await page.waitForTimeout(300);
    const before = await sheet(page);
    want(/Point 1/.test(before) && /each ±/.test(before), before);
    await press("Swap start and end");
    const after = await sheet(page);
    want(before.includes("right of") !== after.includes("right of") || before.includes("on the line"), `${before} | ${after}`);
    await page.screenshot({ path: `${shots}/offset-desk.png` });
    await press("Clear all");
    want(await drawn(page, "path") === 0, "not cleared");
  });
  await check("ties, by keys alone: a typed place is the target, its doubt not stated", async () => {
    await page.keyboard.press("Escape");
    await press("Tools");
    await press("Ties");
    await press("Choose target");
    await press("Type it");
    await page.keyboard.press("Tab");
    for (let i = 0; i < 10 && await page.evaluate(() => document.activeElement.id) !== "place-typed"; i++) await page.keyboard.press("Tab");
    await page.keyboard.type(`${corner[1].toFixed(7)} ${corner[0].toFixed(7)}`);
    await page.keyboard.press("Enter");
    await page.waitForTimeout(600);
    await page.locator("#map").focus();
    for (let i = 0; i < 6; i++) await page.keyboard.press("Shift+ArrowLeft");
    await page.waitForTimeout(600);
    want(/Tie 1: .*± not stated/.test(await bar(page)), await bar(page));
    await page.keyboard.press("Backspace");
    want((await bar(page)).includes("Which spot"), await bar(page));
    await page.keyboard.press("Escape");
    await page.waitForTimeout(200);
    want((await sheet(page)).includes("Choose a target"), await sheet(page));
  });
  await check("offset, by keys alone: no complaint in the console", () => want(complaints.length === 0, complaints.join(" | ")));
  await browser.close();
}

/** Runs all checks of this file against a server whose pack has a reading and a line. */
export async function tieChecks(site, f, shots) {
  await byTouch(site, f, shots);
  await byKeyboard(site, f, shots);
}
