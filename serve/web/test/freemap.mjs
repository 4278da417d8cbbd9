// Checks how much of the screen is free map, by what lies under a grid of points, and that the
// whole dig area lies in it: at rest, out of reach, with a pack that is not fit, with a position,
// under a sheet and while measuring, on every shape of screen.
import { join } from "node:path";
import { between } from "./between.mjs";
import { check, goTo, mercator, movedBy, openPage, settled, showError, underCross, want } from "./harness.mjs";

/** The least share of the screen's area that is free map: at rest, with something wrong or a position, under a sheet, measuring. */
const screens = [
  { name: "phone", width: 390, height: 844, touch: true, least: { rest: 0.75, told: 0.7, sheet: 0.5, tool: 0.6 } },
  { name: "small phone", width: 360, height: 640, touch: true, least: { rest: 0.65, told: 0.6, sheet: 0.5, tool: 0.5 } },
  { name: "phone on its side", width: 844, height: 390, touch: true, least: { rest: 0.7, told: 0.65, sheet: 0.55, tool: 0.55 } },
  { name: "tablet", width: 820, height: 1180, touch: true, least: { rest: 0.8, told: 0.75, sheet: 0.5, tool: 0.7 } },
  { name: "desk", width: 1440, height: 900, touch: false, least: { rest: 0.6, told: 0.6, sheet: 0.6, tool: 0.6 } },
].map((s) => ({ ...s, density: 1 }));

const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });

/** The share of points of a grid over the screen under which there is nothing but the map. */
const freeShare = (page) => page.evaluate(() => {
  let [free, all] = [0, 0];
  for (let y = 3; y < innerHeight; y += 6) {
    for (let x = 3; x < innerWidth; x += 6) {
      all++;
      if (document.elementFromPoint(x, y)?.closest("#map")) free++;
    }
  }
  return free / all;
});

/** The extent of the dig area: west, south, east, north in Web Mercator. */
async function digArea(site, f) {
  const { features } = await (await fetch(new URL(f.about.area, site))).json();
  const numbers = features.filter((o) => o.properties.part === "area").flatMap((o) => o.geometry.coordinates.flat(Infinity));
  const [lons, lats] = [0, 1].map((k) => numbers.filter((_, i) => i % 2 === k));
  return [...mercator(Math.min(...lons), Math.min(...lats)), ...mercator(Math.max(...lons), Math.max(...lats))];
}

/** What covers some of the dig area; "" for nothing. */
const covered = (page, extent) => page.evaluate(([w, s, e, n]) => {
  const { map } = window.groundsheet;
  map.renderSync();
  const origin = document.getElementById("map").getBoundingClientRect();
  for (let i = 0; i <= 20; i++) {
    for (let j = 0; j <= 20; j++) {
      const [x, y] = map.getPixelFromCoordinate([w + ((e - w) * i) / 20, s + ((n - s) * j) / 20]);
      const found = document.elementFromPoint(origin.left + x, origin.top + y);
      if (!found?.closest("#map")) return `${found?.id || found?.tagName || "off the screen"} at ${Math.round(x)}, ${Math.round(y)} of the map`;
    }
  }
  return "";
}, extent);

/** One state of the page on one screen. */
async function state(page, screen, name, least, extent, { opening = false } = {}) {
  await check(`${screen.name}, ${name}: enough of the screen is map, and the whole dig area lies in it`, async () => {
    await settled(page);
    let over = opening ? await covered(page, extent) : "";
    for (let i = 0; i < 20 && over !== ""; i++) { // what records on site comes a moment later, and the job is fitted anew
      await page.waitForTimeout(100);
      over = await covered(page, extent);
    }
    want(over === "", `at first opening: ${over}`);
    const share = await freeShare(page);
    console.log(`     ${(share * 100).toFixed(0)} % free`);
    want(share >= least, `${(share * 100).toFixed(1)} % of the screen, want ${least * 100} %`);
    await page.evaluate(() => document.getElementById("whole-job").click());
    await settled(page);
    want(await covered(page, extent) === "", `after “Whole job”: ${await covered(page, extent)}`);
  });
}

async function plain(site, screen, extent, shots) {
  const way = await between(site);
  const { browser, page } = await openPage(screen);
  const shot = (name) => page.screenshot({ path: join(shots, `free-${screen.width}-${name}.png`) });
  await page.goto(way.url.href);
  await ready(page);
  await state(page, screen, "at rest", screen.least.rest, extent, { opening: true });
  await shot("rest");
  await page.evaluate(() => document.getElementById("show-layers").click());
  await state(page, screen, "a sheet open", screen.least.sheet, extent);
  await shot("sheet");
  await page.keyboard.press("Escape");
  await page.click("#show-tools");
  await page.locator("#sheet-body button", { hasText: "Measure a length" }).click();
  await page.click("#measure-add");
  await state(page, screen, "measuring", screen.least.tool, extent);
  await shot("measuring");
  await check(`${screen.name}: while somebody aims, what comes over the map leaves the cross on its ground`, async () => {
    const before = await page.evaluate(underCross);
    for (const on of [true, false]) {
      const top = () => page.locator("#cross").evaluate((e) => e.getBoundingClientRect().top);
      const stood = await top();
      await page.evaluate(showError, on);
      await page.waitForTimeout(200);
      want(Math.abs(await top() - stood) > 5, "the middle of the free map is where it was");
      const off = movedBy(before, await page.evaluate(underCross));
      want(off < 0.6, `${off.toFixed(1)} pixels off, with the error ${on ? "shown" : "gone"}`);
    }
  });
  await check(`${screen.name}: while somebody records, what is not drawn is told whole, and moves nothing`, async () => {
    for (const words of ["18 hidden · zoom in", "some zones not drawn · zoom in"]) {
      const [cut, grown] = await page.evaluate((text) => {
        const [told, foot] = ["hidden-told", "readout"].map((id) => document.getElementById(id));
        const before = foot.offsetHeight;
        document.body.classList.add("marking");
        told.textContent = text;
        const all = [told.clientWidth === 0 || told.scrollWidth > told.clientWidth || told.scrollHeight > told.clientHeight, foot.offsetHeight - before];
        document.body.classList.remove("marking");
        return all;
      }, words);
      want(!cut, `“${words}” is cut`);
      want(grown === 0, `“${words}” makes the foot ${grown} pixels higher`);
    }
  });
  await page.click("#measure-done");
  await way.cut();
  await page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));
  await page.locator("#status", { hasText: "Out of reach" }).waitFor({ timeout: 10_000 });
  await state(page, screen, "hotspot gone", screen.least.told, extent);
  await check(`${screen.name}, hotspot gone: the ticket's day is told whole or not at all`, async () => {
    for (const more of ["", "no record of: gas · marks kept before cannot be read · "]) {
      const [row, day] = await page.evaluate((text) => {
        document.getElementById("status-also").prepend(text);
        return ["status-small", "status-day"].map((id) => {
          const { left, right, top, bottom } = document.getElementById(id).getBoundingClientRect();
          return { left, right, top, bottom };
        });
      }, more);
      want(day.right > day.left, "there is no day to tell");
      want(day.top >= row.bottom - 1 || (day.right <= row.right + 0.5 && day.bottom <= row.bottom + 1), JSON.stringify([more, row, day]));
    }
  });
  await shot("gone");
  await browser.close();
}

async function wrong(site, f, screen, extent, shots) {
  const { browser, page } = await openPage(screen);
  const { packs } = await (await fetch(new URL("/packs.json", site))).json();
  const verdict = { state: "not fit", faults: 4, first: ["tile 18/51234/98765 is missing", "a record cannot be read"] };
  await page.route((url) => url.pathname === "/packs.json", (r) => r.fulfill({ json: { packs: packs.map((p) => ({ ...p, verdict })) } }));
  await page.route((url) => url.pathname === "/events", (r) => r.abort()); // of the page itself, so that the laptop's own verdict does not come
  await page.addInitScript(() => ["SharedWorker", "BroadcastChannel"].forEach((name) => { delete window[name]; }));
  await page.route((url) => url.pathname.endsWith("/about.json"), (r) => r.fulfill({ json: { ...f.about, ticket: { number: "24-1", valid_until: "2020-01-31" } } }));
  await page.goto(site.href);
  await ready(page);
  await page.locator('#status[data-tone="bad"]', { hasText: "NOT FIT: do not rely on it" }).waitFor({ timeout: 5000 });
  await state(page, screen, "not fit, and the ticket has ended", screen.least.told, extent, { opening: true });
  await page.screenshot({ path: join(shots, `free-${screen.width}-wrong.png`) });
  await browser.close();
}

async function positioned(site, f, screen, extent, shots) {
  const { browser, page } = await openPage(screen);
  const [longitude, latitude] = f.reading.geometry.coordinates;
  await browser.context.grantPermissions(["geolocation"]);
  await browser.context.setGeolocation({ longitude, latitude, accuracy: 5 });
  await page.addInitScript(() => localStorage.setItem("groundsheet position", "phone"));
  await page.goto(site.href);
  await ready(page);
  await page.locator("#position-follow").waitFor({ timeout: 5000 });
  await state(page, screen, "with a position", screen.least.told, extent, { opening: true });
  await check(`${screen.name}: following keeps the position in the middle of the free map`, async () => {
    await page.click("#position-follow");
    await browser.context.setGeolocation({ longitude: longitude + 2e-5, latitude: latitude - 3e-5, accuracy: 5 });
    await page.waitForTimeout(1500);
    const off = await page.evaluate(([x, y]) => {
      const { map } = window.groundsheet;
      const box = document.getElementById("map").getBoundingClientRect();
      const top = document.getElementById("over").getBoundingClientRect().bottom;
      const foot = document.getElementById("controls").getBoundingClientRect().top;
      const [left, down] = map.getPixelFromCoordinate([x, y]);
      return [left - box.width / 2, box.top + down - (top + foot) / 2];
    }, mercator(longitude + 2e-5, latitude - 3e-5));
    // A notice beside or over the controls moves the middle by half of its height.
    want(Math.abs(off[0]) < 3 && Math.abs(off[1]) < 26, `${off.map(Math.round)} pixels off`);
  });
  await page.screenshot({ path: join(shots, `free-${screen.width}-position.png`) });
  await browser.close();
}

/** The sheet is dragged by its head, and what was tapped is kept in sight above it. */
async function dragged(site, f, shots) {
  const { browser, page } = await openPage(screens[0]);
  await page.goto(site.href);
  await ready(page);
  const head = async () => page.locator("#sheet-head").boundingBox();
  const drag = async (by) => {
    const { x, y } = await head();
    await page.mouse.move(x + 60, y + 20);
    await page.mouse.down();
    await page.mouse.move(x + 60, y + 20 + by / 2, { steps: 6 });
    await page.mouse.move(x + 60, y + 20 + by, { steps: 6 });
    await page.waitForTimeout(120);
    await page.mouse.up();
  };
  await check("sheet: dragged up it is full, down again first, and further closed", async () => {
    await page.click("#show-layers");
    const first = (await head()).y;
    await drag(-360);
    const full = (await head()).y;
    want(full < first - 250 && full > 44 + 40, `from ${first} to ${full}`);
    await page.screenshot({ path: join(shots, "free-390-full.png") });
    await drag(200);
    want(Math.abs((await head()).y - first) < 2, `at ${(await head()).y}, first ${first}`);
    await drag(200);
    want(!(await page.locator("#sheet").isVisible()), "it stays");
    want(await page.evaluate(() => document.activeElement?.id) === "show-layers", "the focus is lost");
  });
  await check("sheet: by keys its grip does the same", async () => {
    await page.click("#show-layers");
    const first = (await head()).y;
    await page.focus("#sheet-grip");
    await page.keyboard.press("ArrowUp");
    want((await head()).y < first - 250, "it did not rise");
    await page.keyboard.press("ArrowDown");
    want(Math.abs((await head()).y - first) < 2, "it did not come back");
    await page.keyboard.press("ArrowDown");
    want(!(await page.locator("#sheet").isVisible()), "it stays");
  });
  await check("sheet: what was tapped low on the map is brought above it", async () => {
    const [lon, lat] = f.reading.geometry.coordinates;
    await goTo(page, [lon, lat], 20.5);
    const at = await page.evaluate(([x, y]) => {
      const { map } = window.groundsheet;
      const view = map.getView();
      view.setCenter([x, y + 230 * view.getResolution()]);
      map.renderSync();
      const box = document.getElementById("map").getBoundingClientRect();
      const [left, down] = map.getPixelFromCoordinate([x, y]);
      return [box.left + left, box.top + down];
    }, mercator(lon, lat));
    await settled(page);
    await page.touchscreen.tap(...at);
    await page.locator("#sheet.open").waitFor({ timeout: 5000 });
    want(at[1] > (await head()).y, "the sheet would not have covered it");
    await page.waitForTimeout(500);
    const under = await page.evaluate(([x, y]) => {
      const box = document.getElementById("map").getBoundingClientRect();
      const [left, down] = window.groundsheet.map.getPixelFromCoordinate([x, y]);
      return document.elementFromPoint(box.left + left, box.top + down)?.closest("#map, #sheet, #floats")?.id;
    }, mercator(lon, lat));
    want(under === "map", `it lies under ${under}`);
    await page.screenshot({ path: join(shots, "free-390-tapped.png") });
  });
  await browser.close();
}

/** Runs all checks of this file against a server with any pack. */
export async function freeMapChecks(site, f, shots) {
  const extent = await digArea(site, f);
  for (const screen of screens) {
    await plain(site, screen, extent, shots);
    await wrong(site, f, screen, extent, shots);
    await positioned(site, f, screen, extent, shots);
  }
  await dragged(site, f, shots);
}
