// Proves in a real browser that the page rests: nothing is written while nothing happens, a
// receiver repaints only its own mark, and nothing glides where less motion is wanted.
//   node test/idle.mjs --program GROUNDSHEET --pack FILE --shots DIR [--seconds 15]
import { mkdir, mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { PNG } from "pngjs";
import { startServer as startAlone } from "./fieldserver.mjs";
import { check, goTo, mapShot, openPage, settled, tally, want } from "./harness.mjs";
import { epoch, makeReceiver, startServer, until } from "./receiver.mjs";

const { values } = parseArgs({ options: { program: { type: "string" }, pack: { type: "string" }, shots: { type: "string" }, seconds: { type: "string", default: "15" } } });
if (!values.program || !values.pack || !values.shots) {
  console.error("use: node test/idle.mjs --program GROUNDSHEET --pack FILE --shots DIR [--seconds 15]");
  process.exit(2);
}
const phone = { width: 390, height: 844, density: 2, touch: true };
const demo = [-140.49674, 40.4986]; // in the demo's dig area

/** Timers run this many times faster, so that what a page does once a minute is seen soon: 15 s stand for two minutes. */
const hurry = 8;

/** Makes timers run faster, and counts what they and channels between tabs do. */
function quickTimers(times) {
  const [later, every] = [window.setTimeout, window.setInterval];
  window.fired = 0;
  window.posted = 0;
  const counted = (f) => (...all) => {
    window.fired++;
    return f(...all);
  };
  window.setTimeout = (f, ms = 0, ...all) => later(counted(f), ms / times, ...all);
  window.setInterval = (f, ms = 0, ...all) => every(counted(f), ms / times, ...all);
  const post = BroadcastChannel.prototype.postMessage;
  BroadcastChannel.prototype.postMessage = function (message) {
    window.posted++;
    return post.call(this, message);
  };
}

/** Counts what is written to the document and how often the map is drawn, while something goes on. */
async function watched(page, what) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Performance.enable");
  const metric = async (name) => (await cdp.send("Performance.getMetrics")).metrics.find((m) => m.name === name).value;
  await page.evaluate(() => {
    const told = { writes: [], renders: 0 };
    window.told = told;
    const pathOf = (node) => {
      const e = node.nodeType === 1 ? node : node.parentElement;
      return e?.closest("[id]")?.id ?? "document";
    };
    const take = (records) => records.forEach((r) => told.writes.push({
      in: pathOf(r.target), kind: r.type, name: r.attributeName ?? "",
      same: r.type !== "childList" && r.oldValue === (r.type === "attributes" ? r.target.getAttribute(r.attributeName) : r.target.data),
    }));
    told.observer = new MutationObserver(take);
    told.observer.observe(document, { subtree: true, childList: true, attributes: true, attributeOldValue: true, characterData: true, characterDataOldValue: true });
    told.count = () => told.renders++;
    window.groundsheet.map.on("postrender", told.count);
  });
  const styles = await metric("RecalcStyleCount");
  await what();
  const restyled = await metric("RecalcStyleCount") - styles;
  const told = await page.evaluate(() => {
    const { writes, renders, observer, count } = window.told;
    observer.disconnect();
    window.groundsheet.map.un("postrender", count);
    return { writes, renders };
  });
  await cdp.detach();
  return { ...told, restyled };
}

const listed = (writes) => writes.slice(0, 8).map((w) => `${w.kind} ${w.name} in #${w.in}`).join(", ");
const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 30_000 });
const hide = (page, hidden) => page.evaluate((v) => {
  Object.defineProperty(document, "hidden", { value: v, configurable: true });
  Object.defineProperty(document, "visibilityState", { value: v ? "hidden" : "visible", configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}, hidden);

/** A page without a receiver: in sight, hidden, and where tabs cannot share a worker. */
async function idle(without) {
  const how = without.length === 0 ? "a shared worker" : `no ${without.join(" and no ")}`;
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-idle-"));
  const server = await startAlone(values.program, values.pack, folder);
  const { browser, page } = await openPage(phone);
  await page.addInitScript(quickTimers, hurry);
  await page.addInitScript((names) => names.forEach((n) => { delete window[n]; }), without);
  const asked = [];
  page.on("request", (r) => asked.push(new URL(r.url()).pathname));
  await page.goto(server.link);
  await ready(page);
  await settled(page);
  await page.waitForTimeout(2000);
  await page.waitForFunction(() => document.querySelector("#notices [data-notice]:not(.folded)") === null); // a new notice folds once
  const lists = asked.filter((p) => p === "/packs.json").length;
  await check(`${how}: the list of packs is asked for once while the page opens`, () => want(lists === 1, `${lists} times`));
  await check(`${how}: a page at rest writes nothing, draws nothing and says nothing to other tabs`, async () => {
    const posted = await page.evaluate(() => window.posted);
    const { writes, renders, restyled } = await watched(page, () => page.waitForTimeout(1000 * Number(values.seconds)));
    want(asked.filter((p) => p === "/packs.json").length > lists, "the timers did not run: the laptop was not asked");
    want(writes.length === 0, `${writes.length} writes: ${listed(writes)}`);
    want(renders === 0 && restyled === 0, `${renders} drawings of the map, ${restyled} calculations of styles`);
    const more = await page.evaluate(() => window.posted) - posted;
    want(more === 0, `${more} messages to other tabs`);
  });
  await check(`${how}: a hidden page has no timer`, async () => {
    await hide(page, true);
    await page.waitForTimeout(4000); // what was begun ends
    const [fired, posted] = await page.evaluate(() => [window.fired, window.posted]);
    await page.waitForTimeout(5000);
    const [later, said] = await page.evaluate(() => [window.fired, window.posted]);
    want(later === fired && said === posted, `${later - fired} timers and ${said - posted} messages in ${5 * hurry} s`);
    const before = asked.length;
    await hide(page, false);
    await until("the laptop asked again", () => asked.length > before, 3000);
  });
  await browser.close();
  await server.stop();
  await rm(folder, { recursive: true, force: true });
}

/** Degrees for metres east and north of a place. */
const offset = ([lon, lat], east, north) => [lon + east / (111_320 * Math.cos((lat * Math.PI) / 180)), lat + north / 111_132];

/** How far the mark is from a place, in pixels. */
const markOff = (page, [lon, lat]) => page.evaluate(([x, y]) => {
  const { map } = window.groundsheet;
  const at = map.getPixelFromCoordinate([x * 6378137 * Math.PI / 180, 6378137 * Math.log(Math.tan(Math.PI / 4 + y * Math.PI / 360))]);
  const mark = document.getElementById("mark").getBoundingClientRect();
  const box = map.getViewport().getBoundingClientRect();
  return Math.hypot(mark.x - box.x - at[0], mark.y - box.y - at[1]);
}, [lon, lat]);

async function receiving() {
  const receiver = await makeReceiver();
  const server = await startServer(values.program, values.pack, `tcp:127.0.0.1:${receiver.port}`);
  const { browser, page } = await openPage(phone);
  await page.goto(`http://127.0.0.1:${server.port}/`);
  await receiver.connected();
  receiver.send(epoch(demo, { sigma: 0.5 }));
  await ready(page);
  await goTo(page, demo, 20);
  await until("the mark", () => page.evaluate(() => !document.getElementById("mark").hidden));
  const pixel = 156543.034 / 2 ** 20 * Math.cos(demo[1] * Math.PI / 180) / phone.density; // 5.7 cm
  const fixes = async (n, where, how = () => ({ sigma: 0.5 })) => {
    for (let i = 0; i < n; i++) {
      receiver.send(epoch(where(i), how(i)));
      await page.waitForTimeout(1000);
    }
  };
  await check("a receiver that stands still: 20 fixes draw no map, and move no mark", async () => {
    await fixes(2, () => demo);
    const shake = (i) => offset(demo, 0.2 * pixel * Math.sin(i * 2.4), 0.2 * pixel * Math.cos(i * 1.7));
    const { writes, renders } = await watched(page, () => fixes(20, shake, (i) => ({ sigma: 0.5 + 0.002 * (i % 3) })));
    want(renders === 0, `${renders} drawings of the map`);
    const mark = writes.filter((w) => w.in === "mark");
    want(mark.length === 0, `the mark was written: ${listed(mark)}`);
    const same = writes.filter((w) => w.same);
    want(same.length === 0, `written as it was: ${listed(same)}`);
    want(writes.length < 60, `${writes.length} writes: ${listed(writes)}`); // the age of a fix
  });
  await check("a receiver that moves: its mark alone, where it is, and now and then the records that stand clear of it", async () => {
    const { writes, renders } = await watched(page, () => fixes(8, (i) => offset(demo, i, i / 2)));
    want(renders <= 4, `${renders} drawings of the map`);
    want(writes.filter((w) => w.in === "mark" && w.name === "style").length >= 7, `the mark did not move: ${listed(writes)}`);
    want(await page.evaluate(() => document.querySelectorAll("#map *:not(#mark, #mark *)").length > 0) && !writes.some((w) => w.in === "map"), `written in the map: ${listed(writes)}`);
    const off = await markOff(page, offset(demo, 7, 3.5));
    want(off < 0.75, `the mark is ${off.toFixed(2)} pixels off`);
  });
  await check("the mark and its circle stay on the ground while the map moves", async () => {
    const radius = () => page.evaluate(() => document.querySelector("#mark path").getBBox().width);
    const was = await radius();
    await page.mouse.move(200, 400);
    await page.mouse.down();
    await page.mouse.move(120, 330, { steps: 5 });
    const during = await markOff(page, offset(demo, 7, 3.5));
    await page.mouse.up();
    await settled(page);
    want(during < 1, `${during.toFixed(2)} pixels off while the map moves`);
    await page.evaluate(() => window.groundsheet.map.getView().adjustZoom(1));
    await settled(page);
    const now = await radius();
    want(Math.abs(now / was - 2) < 0.02, `at twice the size the circle is ${now} wide, ${was} before`);
    want(await markOff(page, offset(demo, 7, 3.5)) < 1, "off after zooming");
  });
  await check("the name of a mark that is not live covers no reading, and goes where there is no room", async () => {
    await page.evaluate(() => {
      const { map } = window.groundsheet;
      window.dots = () => map.getAllLayers().flatMap((l) => (l.getVisible() && l.getSource().getFeatures?.()) || [])
        .filter((f) => f.getGeometry()?.getType() === "Point").map((f) => f.getGeometry().getCoordinates());
    });
    const places = await page.evaluate(() => window.dots().slice(0, 6).map(([x, y]) => [(x / 6378137) * 180 / Math.PI, (2 * Math.atan(Math.exp(y / 6378137)) - Math.PI / 2) * 180 / Math.PI]));
    want(places.length > 3, "no readings here");
    let seen = 0;
    for (const at of places) {
      await goTo(page, at, 22); // further out depths and flags leave it no room
      receiver.send(epoch(offset(at, 0, 0.4), { quality: 8 })); // a label below would lie on the reading
      await page.waitForTimeout(1200);
      const [words, hits] = await page.evaluate(() => {
        const label = document.querySelector("#mark span");
        if (getComputedStyle(label).visibility === "hidden") return ["", 0];
        const box = label.getBoundingClientRect();
        const map = window.groundsheet.map.getViewport().getBoundingClientRect();
        const within = window.dots().map((c) => window.groundsheet.map.getPixelFromCoordinate(c))
          .filter(([x, y]) => x > box.left - map.left - 8 && x < box.right - map.left + 8 && y > box.top - map.top - 8 && y < box.bottom - map.top + 8);
        return [label.textContent, within.length];
      });
      want(hits === 0, `“${words}” covers ${hits} readings`);
      if (words !== "") seen++;
    }
    console.log(`     named at ${seen} of ${places.length} places`);
    want(seen > 0, "never named");
  });
  await browser.close();
  receiver.close();
  server.stop();
}

/** The views that the map is drawn with from an action on, for a second. */
async function viewsOf(page, act) {
  await page.evaluate(() => {
    window.views = new Set();
    window.note = () => window.views.add([...window.groundsheet.map.getView().getCenter(), window.groundsheet.map.getView().getResolution()].map((v) => v.toFixed(6)).join());
    window.groundsheet.map.on("postrender", window.note);
  });
  await act();
  await page.waitForTimeout(900);
  return page.evaluate(() => {
    window.groundsheet.map.un("postrender", window.note);
    return window.views.size;
  });
}

async function lessMotion() {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-idle-"));
  const server = await startAlone(values.program, values.pack, folder);
  const { browser, page } = await openPage({ ...phone, touch: false });
  await page.goto(server.link);
  await ready(page);
  await settled(page);
  const wheel = async () => {
    await page.mouse.move(200, 420);
    await page.mouse.wheel(0, -240);
  };
  const throwIt = async () => {
    await page.mouse.move(200, 420);
    await page.mouse.down();
    for (let i = 1; i <= 6; i++) await page.mouse.move(200 - 12 * i, 420 - 8 * i);
    return viewsOf(page, () => page.mouse.up());
  };
  const actions = { "a button": () => page.locator("#zoom-in").click(), "the wheel": wheel, "an arrow key": () => page.locator("#map").press("ArrowLeft"), "two clicks": () => page.mouse.dblclick(210, 430) };
  for (const less of [false, true]) {
    await page.emulateMedia({ reducedMotion: less ? "reduce" : "no-preference" });
    await check(less ? "less motion: the map jumps, and no drag glides on" : "the map moves in steps where motion is not unwanted", async () => {
      for (const [name, act] of Object.entries(actions)) {
        const views = await viewsOf(page, act);
        await settled(page);
        want(less ? views <= 2 : views > 2, `${name}: ${views} views`); // before and after
      }
      const views = await throwIt();
      want(less ? views <= 1 : views > 2, `after a drag: ${views} views`);
    });
  }
  await check("less motion: no style animates", async () => {
    const moving = await page.evaluate(() => [...document.querySelectorAll("*")].filter((e) => getComputedStyle(e).transitionDuration !== "0s").map((e) => e.id || e.tagName));
    want(moving.length === 0, moving.join(", "));
  });
  await browser.close();
  await server.stop();
  await rm(folder, { recursive: true, force: true });
}

/** A tile of black and white columns, one pixel wide. */
function stripes() {
  const png = new PNG({ width: 256, height: 256 });
  for (let i = 0; i < 256 * 256; i++) png.data.set(i % 2 === 0 ? [0, 0, 0, 255] : [255, 255, 255, 255], 4 * i);
  return PNG.sync.write(png);
}

/** The mean difference between brightest and darkest of three neighbors, in a row through the map's middle. */
function contrast({ width, height, data }) {
  const row = Math.round(height / 2) * width;
  const at = (x) => data[4 * (row + x)];
  let sum = 0;
  let n = 0;
  for (let x = Math.round(width / 4); x < width * 3 / 4; x++, n++) sum += Math.max(at(x), at(x + 1), at(x + 2)) - Math.min(at(x), at(x + 1), at(x + 2));
  return sum / n / 255;
}

/** The picture is as sharp as the screen or the pack has it, whatever the map's own pixels are. */
async function sharp(density) {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-idle-"));
  const server = await startAlone(values.program, values.pack, folder);
  const { browser, page } = await openPage({ ...phone, density });
  const tile = stripes();
  await page.route((url) => /\/tiles\/\d/.test(url.pathname), (route) => route.fulfill({ body: tile, contentType: "image/png" }));
  await page.goto(server.link);
  await ready(page);
  const bare = async (ratio) => {
    await page.evaluate((r) => {
      const { map } = window.groundsheet;
      map.getLayers().forEach((l) => l.setVisible(l.getClassName() === "picture"));
      const fine = 156543.03392804097 / 2 ** 22; // of a pixel of the deepest tiles
      const view = map.getView();
      view.setResolution(fine * 2);
      view.setCenter(view.getCenter().map((v) => Math.round(v / fine) * fine));
      if (r !== 0) {
        map.pixelRatio_ = r;
        map.updateSize();
      }
    }, ratio);
    await settled(page);
    return contrast(await mapShot(page));
  };
  const seen = await bare(0);
  const all = await bare(density);
  await check(`${density} pixels of the screen to one of the page: a pixel of the deepest picture is seen as well as without a cap`, () => {
    console.log(`     contrast ${seen.toFixed(3)}, without a cap ${all.toFixed(3)}`);
    want(seen > (density <= 2 ? 0.98 : 0.5), `contrast ${seen}`);
    want(seen > 0.95 * all, `contrast ${seen}, without a cap ${all}`);
  });
  await browser.close();
  await server.stop();
  await rm(folder, { recursive: true, force: true });
}

await mkdir(values.shots, { recursive: true });
try {
  await sharp(2);
  await sharp(3);
  await lessMotion();
  await idle([]);
  await idle(["SharedWorker"]);
  await receiving();
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.stack}`);
}
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
