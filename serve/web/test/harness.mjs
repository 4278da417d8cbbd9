// What all browser checks share: counting, a page that may talk to loopback only, moving the map.
import { openBrowser } from "./chromium.mjs";
import { decode } from "./pixels.mjs";

export const tally = { passed: 0, failed: 0 };

const longest = 5 * 60_000;

/** Runs one named check; a failure is told and counted, and the rest still runs. */
export async function check(name, f) {
  let timer;
  // A question to a page has no limit of its own, and one that hangs would hide which check it was.
  const late = new Promise((_, no) => { timer = setTimeout(() => no(new Error(`not done after ${longest / 60_000} minutes`)), longest); });
  try {
    await Promise.race([f(), late]);
    tally.passed++;
    console.log(`ok   ${name}`);
  } catch (e) {
    tally.failed++;
    console.log(`FAIL ${name}: ${e.message}`);
  } finally {
    clearTimeout(timer);
  }
}

export function want(condition, message) {
  if (!condition) throw new Error(message);
}

const loopback = (host) => host === "localhost" || host === "[::1]" || /^127\.\d+\.\d+\.\d+$/.test(host);

/** A page that may talk to loopback only; what it tried and what it complained of is kept. */
export async function openPage(screen) {
  const browser = await openBrowser({
    viewport: { width: screen.width, height: screen.height }, deviceScaleFactor: screen.density, hasTouch: screen.touch,
    timezoneId: screen.zone, colorScheme: "light",
    // Answers put in by a check would not pass through a worker.
    serviceWorkers: screen.worker ? "allow" : "block",
  });
  const page = await browser.context.newPage();
  const complaints = [];
  const strangers = [];
  page.on("console", (m) => m.type() === "error" && complaints.push(`${m.text()} ${m.location().url}`));
  page.on("pageerror", (e) => complaints.push(String(e)));
  await page.route("**/*", (route) => {
    const url = new URL(route.request().url());
    if (loopback(url.hostname) || url.protocol === "blob:" || url.protocol === "data:") return route.continue();
    strangers.push(url.href);
    return route.abort();
  });
  return { browser, page, complaints, strangers };
}

/** Waits until the map has drawn all that is in view. */
export const settled = (page) => page.evaluate(() => new Promise((done) => {
  const { map } = window.groundsheet;
  map.once("rendercomplete", () => setTimeout(done, 120));
  map.render();
}));

export const mapShot = async (page) => decode(await page.locator("#map").screenshot());

/** Moves the map to a place in degrees, at a zoom. */
export async function goTo(page, [lon, lat], zoom) {
  await page.evaluate(([x, y, z]) => {
    const view = window.groundsheet.map.getView();
    view.setCenter([x, y]);
    view.setZoom(z);
  }, [...mercator(lon, lat), zoom]);
  await settled(page);
}

export const mercator = (lon, lat) => [
  (lon * Math.PI / 180) * 6378137,
  6378137 * Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360)),
];

/** Waits for what a tap found; of several, opens the one whose line in the list holds a text. Gives the list as text, "" for one. */
export async function openFound(page, text = "") {
  const body = page.locator("#sheet-body");
  await body.locator(":is(.hit, .found)").first().waitFor({ timeout: 10_000 });
  if (await body.locator(".hit").count() > 0) return "";
  const list = (await page.locator("#sheet").innerText()).replace(/\s+/g, " ");
  await body.locator(".found button", { hasText: text }).first().click();
  await body.locator(".hit").first().waitFor({ timeout: 5000 });
  return list;
}

/** The middle of the free map, where the cross is, as pixels of the map. */
export const middleOf = (page) => page.evaluate(() => {
  const { map } = window.groundsheet;
  map.renderSync();
  return map.getPixelFromCoordinate(map.getView().getCenter());
});

/** Runs in a page: the ground under the cross, in Web Mercator, and how much of it a pixel is. */
export function underCross() {
  const { map } = window.groundsheet;
  map.renderSync();
  const [cross, whole] = [document.getElementById("cross"), map.getTargetElement()].map((e) => e.getBoundingClientRect());
  return [...map.getCoordinateFromPixel([(cross.left + cross.right) / 2 - whole.left, (cross.top + cross.bottom) / 2 - whole.top]), map.getView().getResolution()];
}

/** Runs in a page: shows an error over the map, or takes it away. */
export function showError(on) {
  document.getElementById("errorbar-words").textContent = "Some of the picture could not be loaded.";
  document.getElementById("errorbar").hidden = !on;
}

/** How far two of `underCross` are from each other, in pixels; infinity at another zoom. */
export const movedBy = ([x, y, size], [x1, y1, size1]) => (size === size1 ? Math.hypot(x1 - x, y1 - y) / size : Infinity);

/** Taps or clicks the middle of the free map. */
export async function tapMiddle(page, screen) {
  const box = await page.locator("#map").boundingBox();
  const [x, y] = await middleOf(page);
  const at = [box.x + x, box.y + y];
  await (screen.touch ? page.touchscreen.tap(...at) : page.mouse.click(...at));
}

/** The notices that are true, by name; the one that is shown comes first, with its words in full. */
export const noticesOf = (page) => page.evaluate(() => {
  const shown = document.querySelector("#notices > [data-notice]");
  return { all: (document.getElementById("notices").dataset.all ?? "").split(" "), shown: shown?.dataset.notice ?? "", text: shown?.title ?? "" };
});

/** The line at the top: its tone, and all of its words. */
export const statusOf = (page) => page.locator("#status").evaluate((e) => ({ tone: e.dataset.tone, text: e.innerText.replace(/\s+/g, " ") }));

/** Opens the sheet about the job, reads it, and closes it again. */
export async function aboutJob(page) {
  await page.click("#status");
  const text = (await page.locator("#sheet-body").innerText()).replace(/\s+/g, " ");
  await page.keyboard.press("Escape");
  return text;
}
