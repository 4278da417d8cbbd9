// Checks what the page does when the hotspot drops, the pack is exchanged, or
// the clocks differ.
import { join } from "node:path";
import { between } from "./between.mjs";
import { aboutJob, check, goTo, mapShot, noticesOf, openPage, settled, want } from "./harness.mjs";
import { coloursInMiddle } from "./pixels.mjs";

const phone = { width: 390, height: 844, density: 2, touch: true };
const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
const line = (page) => page.locator("#status");
/** Waits until the line at the top, or a later part of what is wrong, says so; gives the sheet's words about it. */
const says = async (page, words) => {
  const at = Date.now();
  for (;;) {
    const text = await aboutJob(page);
    if (text.includes(words)) return text;
    if (Date.now() - at > 10_000) throw new Error(`no “${words}” in “${text.slice(0, 300)}”`);
    await page.waitForTimeout(100);
  }
};
const saysNot = async (page, words) => {
  for (let i = 0; i < 100 && (await aboutJob(page)).includes(words); i++) await page.waitForTimeout(100);
  want(!(await aboutJob(page)).includes(words), `“${words}” is still said`);
};
const out = "Hotspot out of range";
/** As if the phone had slept: the page is told that it is seen again. */
const wake = (page) => page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));

/** What records on site is loaded after the first picture; where it does not come, that is said. */
async function marksNotLoaded(site) {
  const { browser, page } = await openPage(phone);
  await page.route((url) => url.pathname === "/marking.js", (r) => r.abort());
  await page.goto(site.href);
  await ready(page);
  await check("marks that cannot be loaded: said", async () => {
    await line(page).filter({ hasText: "marks made on site not shown" }).waitFor({ timeout: 10_000 });
    await says(page, "What was recorded on site could not be loaded: none of it is shown here");
  });
  await browser.close();
}

/** A secure page keeps what was seen, and says so when it shows it. */
async function dropped(site, f, shots) {
  const way = await between(site);
  const { browser, page, complaints } = await openPage({ ...phone, worker: true });
  await page.goto(way.url.href);
  await ready(page);
  await settled(page);
  await page.evaluate(() => navigator.serviceWorker.ready);
  const kept = () => page.evaluate(async () => Promise.all((await caches.keys()).map(async (n) => (await (await caches.open(n)).keys()).length)));
  await check("worker: what the page loaded before it ran is kept", async () => {
    for (let i = 0; i < 40 && Math.min(0, ...await kept()) + (await kept()).reduce((a, b) => a + b, 0) < 20; i++) await page.waitForTimeout(250);
    want((await kept()).every((n) => n >= 5), `kept: ${await kept()}`);
  });
  await check("worker: in reach nothing is said of it", async () => want(!(await aboutJob(page)).includes(out), await aboutJob(page)));
  await page.waitForTimeout(500);
  complaints.length = 0;
  await way.cut();
  await check("hotspot gone: the page says so, and since when", async () => {
    await wake(page);
    await line(page).filter({ hasText: "Laptop out of reach" }).waitFor({ timeout: 10_000 });
    const text = await says(page, out);
    want(text.includes("still on the job's Wi-Fi") && text.includes("laptop awake") && text.includes(way.url.origin), text);
    want(/Hotspot out of range\. This is what this device had seen by \d{4}-\d\d-\d\d, \d+:\d\d [AP]M, today/.test(text), text);
    await page.screenshot({ path: join(shots, "out-of-reach.png") });
  });
  await check("hotspot gone: a page opened anew shows what was seen, and says that it is old", async () => {
    await page.reload();
    await ready(page);
    await settled(page);
    want(coloursInMiddle(await mapShot(page)) > 60, "no picture");
    await page.click("#show-layers");
    want(await page.locator(".records .fault").count() === 0, "a record is missing");
    await page.click("#sheet-close");
    await says(page, out);
    want(!(await page.locator("#errorbar").isVisible()), await page.locator("#errorbar").innerText());
  });
  await check("hotspot gone: a place not seen has no picture, and the page still stands", async () => {
    const [lon, lat] = f.reading.geometry.coordinates;
    await goTo(page, [lon, lat], f.tiles.maxzoom + 1);
    want(await page.locator('body[data-state="ready"]').count() === 1 && (await aboutJob(page)).includes(out), "it does not");
  });
  await check("hotspot gone: a page of which a script was not kept says so, and comes back by its button", async () => {
    const taken = await page.evaluate(async () => {
      let n = 0;
      for (const name of await caches.keys()) {
        const cache = await caches.open(name);
        for (const r of await cache.keys()) if (r.url.endsWith("/shared.js")) n += Number(await cache.delete(r));
      }
      return n;
    });
    want(taken > 0, "no script was kept");
    await page.reload();
    const told = page.locator("#not-whole");
    await told.waitFor({ timeout: 10_000 });
    want((await told.innerText()).includes("job's Wi-Fi") && (await page.locator("#too-old").isHidden()), await told.innerText());
    await page.screenshot({ path: join(shots, "not-whole.png") });
    await page.click("#load-again");
    await told.waitFor({ timeout: 10_000 });
    await way.restore();
    await page.click("#load-again");
    await ready(page);
    want(await told.isHidden(), "still told");
    await way.cut();
  });
  await way.restore();
  await check("hotspot back: the page finds it, and the picture comes by itself", async () => {
    await wake(page);
    await saysNot(page, out);
    await settled(page);
    want(coloursInMiddle(await mapShot(page)) > 20, `${coloursInMiddle(await mapShot(page))} colours`);
  });
  await check("another version: what was kept of the old one goes", async () => {
    way.state.version = "another";
    await page.reload();
    await ready(page);
    await page.waitForTimeout(1500);
    const olds = await page.evaluate(async () => {
      const found = [];
      for (const n of await caches.keys()) {
        const c = await caches.open(n);
        for (const r of await c.keys()) {
          const v = (await c.match(r)).headers.get("Groundsheet-Pack");
          if (v && v !== "another") found.push(r.url);
        }
      }
      return found;
    });
    want(olds.length === 0, `still kept: ${olds.slice(0, 3).join(" ")}`);
  });
  await browser.close();
  await way.cut();
}

/** The pack is exchanged under an open page. */
async function exchanged(site, f, shots) {
  const way = await between(site);
  const { browser, page } = await openPage(phone);
  await page.goto(way.url.href);
  await ready(page);
  await settled(page);
  await check("pack taken off: the page says so, and no more once it is back", async () => {
    way.state.gone = true;
    await wake(page);
    await says(page, "no longer serves this pack");
    way.state.gone = false;
    await wake(page);
    await saysNot(page, "no longer serves this pack");
  });
  await check("pack exchanged: the page says so when it wakes, and asks for no more tiles", async () => {
    way.state.version = "another";
    await wake(page);
    await says(page, "another pack");
    want((await noticesOf(page)).text === "Show the new one", JSON.stringify(await noticesOf(page)));
    await page.screenshot({ path: join(shots, "exchanged.png") });
    way.state.asked.length = 0;
    const [lon, lat] = f.reading.geometry.coordinates;
    await goTo(page, [lon, lat], f.tiles.maxzoom + 1);
    const tiles = way.state.asked.filter((u) => /\/tiles\/\d/.test(u));
    want(tiles.length === 0, `asked for ${tiles.length} tiles`);
  });
  await check("pack exchanged: the button loads the new one, at the same place", async () => {
    await page.waitForTimeout(600);
    const zoom = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
    await page.locator('#notices [data-notice="pack"]').click();
    await page.waitForTimeout(300);
    await ready(page);
    want(!(await aboutJob(page)).includes("another pack"), "still told");
    const now = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
    want(Math.abs(now - zoom) < 0.02, `zoom ${now}, was ${zoom}`);
  });
  await browser.close();
  await way.cut();
}

/** The session ends under an open page. */
async function joinAgain(site) {
  const { browser, page } = await openPage(phone);
  await page.goto(site.href);
  await ready(page);
  await check("session ended: the page says so, with a button that leads to joining", async () => {
    await page.route((url) => url.pathname === "/packs.json", (route) => route.fulfill({ status: 401, body: "" }));
    await wake(page);
    await says(page, "join again");
    want((await noticesOf(page)).text === "Join", JSON.stringify(await noticesOf(page)));
  });
  await browser.close();
}

/** The laptop's clock, and the ticket by both. */
async function clocks(site, f, shots) {
  for (const [name, ms, words, none] of [
    ["a minute apart: nothing is said", 60_000, "", "Clocks"],
    ["two hours behind", 7_500_000, "2 h 5 min behind the laptop. Ticket, ages and positions may be told wrongly", ""],
    ["three days ahead", -3 * 86_400_000, "3 days ahead of the laptop", ""],
  ]) {
    const way = await between(site);
    way.state.clockMs = ms;
    const { browser, page } = await openPage(phone);
    await page.goto(way.url.href);
    await ready(page);
    await check(`clocks: ${name}`, async () => {
      await page.waitForTimeout(700);
      const text = await aboutJob(page);
      want(text.includes(words) && (none === "" || !text.includes(none)), text);
    });
    await browser.close();
    await way.cut();
  }
  const way = await between(site);
  way.state.clockMs = 30 * 86_400_000;
  const { browser, page } = await openPage(phone);
  const last = new Date(Date.now() + 10 * 86_400_000).toISOString().slice(0, 10);
  await page.route((url) => url.pathname.endsWith("/about.json"), (route) => route.fulfill({ json: { ...f.about, ticket: { number: "24-1", valid_until: last } } }));
  await page.goto(way.url.href);
  await ready(page);
  await check("ticket: ended by the laptop's clock alone is ended", async () => {
    await page.locator('#status[data-tone="bad"]').filter({ hasText: "Ticket EXPIRED by the laptop's clock" }).waitFor({ timeout: 5000 });
    await says(page, "Ticket 24-1 has EXPIRED by the laptop's clock");
    await page.screenshot({ path: join(shots, "clocks-differ.png") });
  });
  await browser.close();
  await way.cut();
}

/** The view is kept for the pack, without any address. */
async function lastView(site, f) {
  const { browser, page } = await openPage(phone);
  await page.goto(site.href);
  await ready(page);
  const [lon, lat] = f.reading.geometry.coordinates;
  await goTo(page, [lon, lat], 20.25);
  await page.waitForTimeout(700);
  const second = await browser.context.newPage();
  await second.goto(site.href);
  await ready(second);
  await check("last view: opened again, the map is where it was", async () => {
    const zoom = await second.evaluate(() => window.groundsheet.map.getView().getZoom());
    want(Math.abs(zoom - 20.25) < 0.02, `zoom ${zoom}`);
  });
  await second.goto("about:blank");
  await check("back from another page: the map is there and moves", async () => {
    await second.goBack();
    await ready(second);
    await second.click("#zoom-in");
    await settled(second);
    const zoom = await second.evaluate(() => window.groundsheet.map.getView().getZoom());
    want(zoom > 20.9, `zoom ${zoom}`);
  });
  await browser.close();
}

/** Runs all checks of this file against a server with any pack. */
export async function reachChecks(site, f, shots) {
  await marksNotLoaded(site);
  await dropped(site, f, shots);
  await exchanged(site, f, shots);
  await joinAgain(site);
  await clocks(site, f, shots);
  await lastView(site, f);
}
