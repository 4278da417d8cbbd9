// Chromium, by Playwright.
import { findBrowser, openBrowser } from "../chromium.mjs";

/** What is missing here for it, as a sentence; "" for nothing. */
export function missing() {
  try {
    findBrowser();
    return "";
  } catch (e) {
    return e.message;
  }
}

/** Opens it; see index.mjs. */
export async function open({ width, height, density, scheme, proxy, before }) {
  const { context, close } = await openBrowser({
    viewport: { width, height }, deviceScaleFactor: density, hasTouch: true, colorScheme: scheme,
    proxy: { server: proxy }, ignoreHTTPSErrors: true,
  }, ["--ignore-certificate-errors"]); // a worker's script asks for the second
  context.setDefaultTimeout(30_000);
  if (before) await context.addInitScript(before);
  const page = context.pages()[0] ?? await context.newPage();
  const complaints = [];
  page.on("console", (m) => m.type() === "error" && complaints.push(`${m.text()} ${m.location().url}`));
  page.on("pageerror", (e) => complaints.push(String(e)));
  return {
    complaints, page,
    goto: (url) => page.goto(url),
    ev: (f, ...args) => page.evaluate(`(${f})(...${JSON.stringify(args)})`),
    tap: ([x, y]) => page.touchscreen.tap(x, y),
    async drag([x, y], [u, v]) {
      await page.mouse.move(x, y);
      await page.mouse.down();
      await page.mouse.move(u, v, { steps: 8 });
      await page.mouse.up();
    },
    async keys(...all) {
      for (const k of all) await page.keyboard.press(k);
    },
    shot: () => page.screenshot(),
    size: (w, h) => page.setViewportSize({ width: w, height: h }),
    close,
  };
}
