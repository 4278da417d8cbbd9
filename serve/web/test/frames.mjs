// Measures how long frames take while the map moves, and how soon it is painted,
// in a browser that is slowed down.
import { loadavg } from "node:os";
import { openPage, settled } from "./harness.mjs";

/** The slow phone of the aims: a processor four times slower. */
export const slower = 4;

/** 10 Mbit/s with 20 ms there and back: a hotspot in the yard. */
const hotspot = { offline: false, latency: 20, downloadThroughput: 10e6 / 8, uploadThroughput: 10e6 / 8 };

/** How busy the machine is: figures mean little when others work on it. */
export const load = () => `load ${loadavg()[0].toFixed(1)}`;

/** Where a hand drags the map to, in parts of its size. */
const swipes = [[-0.35, 0.1], [0.35, -0.3], [0.1, 0.35], [-0.2, -0.2]];

/** The middle of the map on the page. */
async function middle(page) {
  const box = await page.locator("#map").boundingBox();
  return { box, x: box.x + box.width / 2, y: box.y + box.height / 2 };
}

/** Drags the map about at a zoom, as a hand would. */
export async function swipeAt(page, zoom) {
  await page.evaluate((z) => window.groundsheet.map.getView().setZoom(z), zoom);
  await settled(page);
  const { box, x, y } = await middle(page);
  for (const [dx, dy] of swipes) {
    await page.mouse.move(x, y);
    await page.mouse.down();
    for (let i = 1; i <= 12; i++) {
      await page.mouse.move(x + (dx * box.width * i) / 12, y + (dy * box.height * i) / 12);
      await page.waitForTimeout(16);
    }
    await page.mouse.up();
    await page.waitForTimeout(500);
  }
}

/** Drags the map about at some zooms, and turns the wheel in and out. */
export async function moveAbout(page, zooms) {
  for (const zoom of zooms) await swipeAt(page, zoom);
  const { x, y } = await middle(page);
  for (const turn of [-240, -240, -240, 240, 240, 240]) {
    await page.mouse.move(x + 20, y + 10);
    await page.mouse.wheel(0, turn);
    await page.waitForTimeout(600);
  }
}

/** What dragging the map at a zoom costs, in ms: processor time of a swipe, and of the longest pieces of work. */
export async function swipeCost(page, zoom) {
  const work = await longestWork(page, () => swipeAt(page, zoom));
  return { swipe: work.reduce((sum, v) => sum + v, 0) / swipes.length, work };
}

/** The longest gaps between frames while `move` runs on a slowed processor, in ms, longest first. */
export async function longestGaps(page, move) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Emulation.setCPUThrottlingRate", { rate: slower });
  await page.evaluate(() => {
    const watch = { gaps: [], on: true };
    window.watch = watch;
    let before = 0;
    const look = (now) => {
      if (before > 0) watch.gaps.push(now - before);
      before = now;
      if (watch.on) requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
  await move();
  const gaps = await page.evaluate(() => {
    window.watch.on = false;
    return window.watch.gaps.sort((a, b) => b - a);
  });
  await cdp.detach(); // as fast as before
  return gaps;
}

/**
 * The longest pieces of work of the page's main thread while `move` runs, in ms
 * of processor time, longest first. Others that use the machine lengthen a gap
 * between frames, but hardly this.
 */
export async function longestWork(page, move) {
  const cdp = await page.context().newCDPSession(page);
  const events = [];
  cdp.on("Tracing.dataCollected", ({ value }) => events.push(...value));
  await cdp.send("Tracing.start", { transferMode: "ReportEvents", traceConfig: { includedCategories: ["toplevel"] } });
  await move();
  const complete = new Promise((done) => cdp.once("Tracing.tracingComplete", done));
  await cdp.send("Tracing.end");
  await complete;
  await cdp.detach();
  const thread = (e) => `${e.pid} ${e.tid}`;
  const main = new Set(events.filter((e) => e.name === "thread_name" && e.args.name === "CrRendererMain").map(thread));
  return events.filter((e) => main.has(thread(e)) && e.name.endsWith("RunTask") && e.tdur > 0).map((e) => e.tdur / 1000).sort((a, b) => b - a);
}

/**
 * What one and the same piece of work takes in a page right now, in ms of processor time: the
 * yardstick for what a page does itself, on fast machines and slow ones, idle and busy.
 */
export async function yardstick(page) {
  const rounds = 9;
  const work = await longestWork(page, async () => {
    for (let i = 0; i < rounds; i++) {
      await page.evaluate(() => {
        const places = new Map();
        for (let n = 0; n < 40_000; n++) {
          const at = [n * 22.26389816, 6378137 * Math.log(Math.tan(Math.PI / 4 + (n / 1e6) * Math.PI / 360))];
          places.set(String(at), at);
        }
        return places.size;
      });
    }
  });
  return work[Math.floor(rounds / 2)];
}

/** From the address to the first piece of picture, and to picture and records, in ms, on a slowed processor over a slow hotspot. */
export async function firstPaint(href, screen) {
  const { browser, page } = await openPage(screen);
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Emulation.setCPUThrottlingRate", { rate: slower });
  await cdp.send("Network.enable");
  await cdp.send("Network.emulateNetworkConditions", hotspot);
  await page.addInitScript(() => {
    // The first image as large as a tile that is put onto a canvas, in the frame after.
    const draw = CanvasRenderingContext2D.prototype.drawImage;
    CanvasRenderingContext2D.prototype.drawImage = function (image, ...where) {
      if (image instanceof HTMLImageElement && image.naturalWidth >= 256 && !window.painted) {
        window.painted = -1;
        requestAnimationFrame(() => (window.painted = performance.now()));
      }
      return draw.call(this, image, ...where);
    };
  });
  await page.goto(href);
  await page.locator('body[data-state="ready"]').waitFor({ timeout: 60_000 });
  const times = await page.evaluate(() => ({ painted: window.painted ?? -1, ready: performance.now() }));
  await browser.close();
  return times;
}
