// Measures how long frames take while the map moves, and how soon it is painted,
// in a browser that is slowed down.
import { openPage, settled } from "./harness.mjs";

/** The slow phone of the aims: a processor four times slower. */
export const slower = 4;

/** 10 Mbit/s with 20 ms there and back: a hotspot in the yard. */
export const hotspot = { offline: false, latency: 20, downloadThroughput: 10e6 / 8, uploadThroughput: 10e6 / 8 };

/** Slows the processor of a page down. */
export async function slowDown(page, rate = slower) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Emulation.setCPUThrottlingRate", { rate });
  return cdp;
}

/** Begins to count the gaps between frames; ends with the gaps, in ms, longest first. */
export async function watchFrames(page) {
  await page.evaluate(() => {
    const watch = { gaps: [], tasks: [], on: true };
    window.watch = watch;
    let before = performance.now();
    const look = (now) => {
      watch.gaps.push(now - before);
      before = now;
      if (watch.on) requestAnimationFrame(look);
    };
    requestAnimationFrame((now) => {
      before = now;
      requestAnimationFrame(look);
    });
    watch.observer = new PerformanceObserver((list) => watch.tasks.push(...list.getEntries().map((e) => e.duration)));
    watch.observer.observe({ type: "long-animation-frame", buffered: false });
  });
  return () => page.evaluate(() => {
    window.watch.on = false;
    window.watch.observer.disconnect();
    const down = (a, b) => b - a;
    return { gaps: window.watch.gaps.sort(down), long: window.watch.tasks.sort(down) };
  });
}

/** Drags the map about, and turns the wheel in and out, as a hand would. */
export async function moveAbout(page, zooms) {
  const box = await page.locator("#map").boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  for (const zoom of zooms) {
    await page.evaluate((z) => window.groundsheet.map.getView().setZoom(z), zoom);
    await settled(page);
    for (const [dx, dy] of [[-0.35, 0.1], [0.35, -0.3], [0.1, 0.35], [-0.2, -0.2]]) {
      await page.mouse.move(x, y);
      await page.mouse.down();
      for (let i = 1; i <= 12; i++) {
        await page.mouse.move(x + dx * box.width * i / 12, y + dy * box.height * i / 12);
        await page.waitForTimeout(16);
      }
      await page.mouse.up();
      await page.waitForTimeout(500);
    }
  }
  for (const turn of [-240, -240, -240, 240, 240, 240]) {
    await page.mouse.move(x + 20, y + 10);
    await page.mouse.wheel(0, turn);
    await page.waitForTimeout(600);
  }
}

/** The first paint: from the address to the first piece of picture, and to the whole of it with all records. */
export async function firstPaint(href, screen, slow = true) {
  const { browser, page } = await openPage(screen);
  if (slow) {
    const cdp = await slowDown(page);
    await cdp.send("Network.enable");
    await cdp.send("Network.emulateNetworkConditions", hotspot);
  }
  await page.addInitScript(() => {
    // The first piece of picture: the first image as large as a tile that is put onto a canvas, in the frame it is shown.
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
  const times = await page.evaluate(() => ({
    painted: window.painted, ready: performance.now(),
    asked: performance.getEntriesByType("resource").map((e) => `${new URL(e.name).pathname} ${Math.round(e.startTime)}-${Math.round(e.responseEnd)}`),
  }));
  await browser.close();
  return times;
}
