// The steps that every engine walks, in the order of a day: joining, looking, tapping, measuring,
// the laptop gone and back, and the same again with a page that may keep what it saw.
import { want } from "../harness.mjs";
import { coloursInMiddle, countColour } from "../pixels.mjs";

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/** What the laptop serves of a pack, the first one without its name, asked for beside the page. */
const served = (page, pack = "") => page.browser.ev(async (name) => {
  const get = async (url) => (await fetch(url)).json();
  const { packs } = await get("/packs.json");
  const entry = packs.find((p) => name === "" || p.id === name);
  const about = await get(entry.about);
  const { overlays } = await get(about.overlays);
  const tiles = await get(about.tilejson);
  const records = [];
  for (const o of overlays) {
    const features = o.tilejson ? [] : (await get(o.url)).features;
    const reading = features.find((f) => f.geometry.type === "Point" && Number.isFinite(f.properties.depth_m));
    records.push({ id: o.id, color: o.colour, url: o.url, large: o.tilejson !== undefined, count: features.length, reading });
  }
  const area = (await get(about.area)).features.flatMap((f) => f.geometry.coordinates.flat(9));
  const every = (i) => area.filter((_, k) => k % 2 === i);
  const box = [0, 1].map((i) => [Math.min(...every(i)), Math.max(...every(i))]);
  return { records, zoom: tiles.maxzoom, box, id: entry.id, all: packs.map((p) => p.id) };
}, pack);

/** The depth as it must stand on screen. */
function depthWords(metres) {
  const inches = Math.round(metres / 0.0254);
  return inches < 12 ? `${inches}″` : `${Math.floor(inches / 12)}′ ${inches % 12}″`;
}

/** Opens what a tap found, of several the first; gives its words. */
async function found(page) {
  const kind = await page.until("what the tap found", () => {
    const body = document.querySelector("#sheet.open #sheet-body");
    return body?.querySelector(".hit") ? "one" : body?.querySelector(".found button") ? "several" : "";
  });
  if (kind === "several") await page.press("#sheet-body .found button");
  return page.shows("#sheet-body", ".");
}

export async function firstVisit({ page, browser, check, shot, laptops: { plain } }) {
  await check("the join page, and a wrong code told in words", async () => {
    await browser.goto(`${plain.at}/`);
    await page.shows("h1", "Join this map");
    want(await browser.ev(() => document.getElementById("code").inputMode) === "numeric", "no pad of numbers for a code of numbers");
    want(await browser.ev(() => !isSecureContext), "the page is secure: this check shows nothing of a hotspot");
    await page.type("#code", "000 000 0000");
    await page.press("#go");
    await page.shows("#said", "not the code for this map");
    await shot("wrong-code");
  });
  await check("the right code opens the map", async () => {
    await page.type("#code", plain.code);
    await browser.keys("Enter");
    await page.ready();
  });
  browser.complaints.length = 0; // a browser reports the two answers, 401 and 403, on its own
}

export async function sight({ page, browser, check, shot }) {
  const f = await served(page);
  await check("the map is painted, and each layer holds all of its features", async () => {
    await page.goTo(f.records.find((r) => r.reading).reading.geometry.coordinates, 20);
    await page.press("#whole-job");
    await page.settled();
    want(coloursInMiddle(await page.picture()) > 60, "no picture in the middle of the map");
    await shot("map");
    const held = await browser.ev(() => window.groundsheet.map.getAllLayers()
      .map((l) => l.getSource?.()?.getFeatures?.().length ?? 0).filter((n) => n > 0));
    const all = [...held];
    for (const { id, count } of f.records) {
      want(all.includes(count), `no layer of ${count} features for ${id}: there are ${held.join(", ")}`);
      all.splice(all.indexOf(count), 1);
    }
  });
  await check("the whole job is in the free map", async () => {
    const [[west, east], [south, north]] = f.box;
    for (const at of [[west, north], [east, north], [west, south], [east, south]]) {
      const [x, y] = await page.pixelOf(at);
      const over = await browser.ev((a, b) => document.elementFromPoint(a, b)?.closest("[id]")?.id ?? "nothing", x, y);
      want(await browser.ev((a, b) => document.elementFromPoint(a, b)?.closest("#map") !== null, x, y), `a corner of the dig area lies under ${over}, at ${Math.round(x)}, ${Math.round(y)}`);
    }
  });
  await check("a layer put off is gone from the map, and comes back", async () => {
    const { color } = f.records[0];
    const same = f.records.filter((r) => r.color === color).map((r) => r.id);
    const drawn = async () => countColour(await page.picture(), color, 12);
    const turn = async () => {
      await page.sheet("layers");
      for (const id of same) await page.press(`input[data-overlay="${id}"]`);
      await page.closeSheet();
      await page.settled();
    };
    const before = await drawn();
    want(before > 150, `only ${before} pixels of ${color}`);
    await turn();
    await page.shows("#show-layers", "off");
    want(await drawn() < before / 10, `${await drawn()} pixels of ${color} are left of ${before}`);
    await turn();
    want(await drawn() > before / 2, "it does not come back");
  });
}

export async function touching({ page, browser, check, shot }) {
  const f = await served(page);
  const { reading } = f.records.find((r) => r.reading);
  await check("a tap on a reading tells its depth", async () => {
    await page.goTo(reading.geometry.coordinates, 22);
    await browser.tap(await page.pixelOf(reading.geometry.coordinates));
    const words = await found(page);
    want(words.includes(depthWords(reading.properties.depth_m)), `no “${depthWords(reading.properties.depth_m)}” in “${words.slice(0, 200)}”`);
    await shot("reading");
    await page.closeSheet();
  });
  await check("a tap beside everything says that nothing is recorded, not that nothing is there", async () => {
    const [[west], [south]] = f.box;
    const at = [west - 1e-4, south - 1e-4];
    await page.goTo(at, 21);
    await browser.tap(await page.pixelOf(at));
    await page.shows("body", "Nothing recorded here in this pack. That does not mean nothing is there");
  });
  await check("a drag moves the map, the buttons zoom, and “Whole job” comes back", async () => {
    await page.goTo(reading.geometry.coordinates, 20);
    const before = await page.view();
    const [x, y] = await page.free();
    await browser.drag([x, y], [x - 40, y + 60]);
    await page.until("the map moves", (c) => Math.hypot(window.groundsheet.map.getView().getCenter()[0] - c[0], window.groundsheet.map.getView().getCenter()[1] - c[1]) > 5, before.center);
    const zoomed = (by) => page.until(`zoomed by ${by}`, (z) => Math.abs(window.groundsheet.map.getView().getZoom() - z) < 0.02, before.zoom + by);
    await page.press("#zoom-in");
    await zoomed(1);
    for (let i = 0; i < 3; i++) await page.press("#zoom-out"); // faster than it glides
    await zoomed(-2);
    await page.goTo(reading.geometry.coordinates, 22);
    await page.press("#whole-job");
    await page.until("the whole job", () => window.groundsheet.map.getView().getZoom() < 21);
  });
  await check("enlarged pictures are told of", async () => {
    await page.goTo(reading.geometry.coordinates, f.zoom + 3);
    await page.shows("body", "enlarged( up to)? \\d+×");
    want(coloursInMiddle(await page.picture()) > 12, "no picture");
    await shot("enlarged");
  });
  await check("a reload keeps the view and the session", async () => {
    await pause(700); // the view is written down
    const before = await page.view();
    await browser.ev(() => location.reload()).catch(() => undefined);
    await pause(300);
    await page.ready();
    const after = await page.view();
    want(Math.abs(after.zoom - before.zoom) < 0.02 && Math.hypot(after.center[0] - before.center[0], after.center[1] - before.center[1]) < 1, JSON.stringify([before, after]));
  });
}

export async function tools({ page, browser, check, shot }) {
  const f = await served(page);
  const { reading } = f.records.find((r) => r.reading);
  const [lon, lat] = reading.geometry.coordinates;
  const foot = 0.3048;
  const at = (east, north) => [lon + (east * foot) / (111_320 * Math.cos((lat * Math.PI) / 180)), lat + (north * foot) / 111_132];
  await check("a length and an area are measured", async () => {
    await page.goTo(at(0, 0), 21);
    await page.tool("Measure a length");
    await page.press("#measure-add");
    await page.goTo(at(30, 0), 21);
    await page.press("#measure-add");
    await page.goTo(at(30, 40), 21);
    const words = await page.shows("#measure", "Length [\\d.]+ ft");
    want(Math.abs(Number(/Length ([\d.]+)/.exec(words)[1]) - 70) < 0.5, words);
    await page.press("#measure-kind");
    const area = await page.shows("#measure", "Area [\\d.,]+ sq ft");
    want(Math.abs(Number(/Area ([\d.]+)/.exec(area)[1]) - 600) < 15, area);
    await shot("measure");
    await page.press("#measure-done");
    await page.until("measuring ends", () => document.querySelector("#measure").getClientRects().length === 0);
  });
  await check("the map goes to coordinates, and those of its middle are copied", async () => {
    await page.tool("Coordinates");
    await page.type("#place-typed", `${(lat + 1e-4).toFixed(7)} ${lon.toFixed(7)}`);
    await page.shows(".understood", "On the job");
    await browser.keys("Enter");
    await page.until("the map is there", (y) => Math.abs(window.groundsheet.map.getView().getCenter()[1] - y) < 0.5,
      6378137 * Math.log(Math.tan(Math.PI / 4 + ((lat + 1e-4) * Math.PI) / 360)));
    await page.tool("Coordinates");
    await page.press(".coordinates button", "Copy");
    await page.shows(".coordinates button", "Copied");
    await page.closeSheet();
  });
}

/** The contrast of two colors by WCAG 2.2. */
function contrast(a, b) {
  const light = (rgb) => rgb.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4)).reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const [hi, lo] = [light(a), light(b)].sort((x, y) => y - x);
  return (hi + 0.05) / (lo + 0.05);
}

export async function looks({ page, browser, check, shot }) {
  for (const look of ["Night", "Strong sun", "Day"]) {
    await check(`by ${look}: choices that are not made are seen, and all of the frame has its color`, async () => {
      await page.look(look);
      await page.sheet("tools");
      const all = await browser.ev(() => [...document.querySelectorAll("#sheet-body .choices input")].map((e) => {
        e.scrollIntoView({ block: "nearest" });
        const { left, top, width, height } = e.getBoundingClientRect();
        return { checked: e.checked, at: [left, top + height / 2], width };
      }));
      const unmade = all.filter((c) => !c.checked).at(-1);
      const png = await page.picture();
      await shot(look.replace(" ", "-").toLowerCase());
      const density = png.width / await browser.ev(() => innerWidth);
      const pixel = (x, y) => [0, 1, 2].map((i) => png.data[(Math.round(y * density) * png.width + Math.round(x * density)) * 4 + i]);
      const [x, y] = unmade.at;
      const ground = pixel(x - 4, y);
      const edge = Math.max(...Array.from({ length: 24 }, (_, i) => contrast(pixel(x - 2 + i / 4, y), ground)));
      want(edge >= 3, `the edge of a choice is ${edge.toFixed(1)} to 1`);
      // A bar to scroll by, where the engine has one beside the text.
      const sheet = await browser.ev(() => { const b = document.getElementById("sheet-body").getBoundingClientRect(); return [b.right - 5, b.top + 8, b.bottom - 8]; });
      const bright = [];
      for (let v = sheet[1]; v < sheet[2]; v += 2) if (look === "Night" && contrast(pixel(sheet[0], v), [0, 0, 0]) > 12) bright.push(v);
      want(bright.length < 6, `a bright strip at the right of the sheet, at ${bright.slice(0, 5).join(", ")}`);
      const [frame, top] = await browser.ev(() => {
        let e = document.elementFromPoint(innerWidth / 2, 2);
        while (getComputedStyle(e).backgroundColor === "rgba(0, 0, 0, 0)") e = e.parentElement;
        return [document.querySelector("meta[name=theme-color]").content, getComputedStyle(e).backgroundColor];
      });
      want(frame === top, `the browser's bar is ${frame}, the page's top ${top}`);
      await page.closeSheet();
    });
  }
}

export async function position({ page, browser, check, shot }) {
  await check("a recorded position is shown as recorded, and the map follows it", async () => {
    await page.press("#whole-job");
    await page.shows("#position-open", "RECORDED");
    await page.press("#position-follow");
    await page.until("the map is at the position", (at) => Math.hypot(...window.groundsheet.map.getView().getCenter().map((v, i) => v - at[i])) < 2,
      [(-140.49674 * Math.PI / 180) * 6378137, 6378137 * Math.log(Math.tan(Math.PI / 4 + (40.4986 * Math.PI) / 360))]);
    await page.settled();
    await shot("position");
    const [x, y] = await page.free();
    await browser.drag([x, y], [x + 60, y + 40]);
    await page.until("a drag ends following", () => document.querySelector("#position-follow").getAttribute("aria-pressed") === "false");
  });
}

/** What browsers say on their own of a laptop that does not answer. */
const unanswered = /Failed to load resource|NetworkError|net::ERR_|Could not connect|network connection was lost|Cross-Origin Request Blocked|can.t establish a connection|was interrupted while the page was loading|The connection to .*events|Load failed|due to access control checks/;

export async function gone({ page, browser, check, shot, hotspot, laptops }) {
  await check("the console is clean", () => want(browser.complaints.length === 0, browser.complaints.join(" | ")));
  await check("the laptop out of reach is told of, and that it is back", async () => {
    hotspot.far(true);
    await page.shows("#status", "[Ll]aptop out of reach");
    await shot("gone");
    hotspot.far(false);
    await page.until("it is back", () => !/out of reach/i.test(document.getElementById("status").innerText));
    await page.goTo([-140.4970, 40.4984], 21.4);
    want(coloursInMiddle(await page.picture()) > 20, "no picture where nothing had been seen before");
    await page.shows("#position-open", "RECORDED");
  });
  await check("a pack put in the place of the open one is offered, and shown when it is wanted", async () => {
    await laptops.exchange();
    await page.shows("#status", "another pack|new pack|earlier");
    await page.notice("pack");
    await pause(300);
    await page.ready();
    want(!/another pack/.test(await page.text("#status")), "it is offered still");
  });
  await check("the console says nothing but that the laptop was gone", () => {
    const rest = browser.complaints.filter((c) => !unanswered.test(c));
    want(rest.length === 0, rest.join(" | "));
  });
  browser.complaints.length = 0;
}

export async function oldBrowsers({ page, browser, check }) {
  await check("without SharedWorker the position comes through one of the tabs", async () => {
    await page.without("SharedWorker");
    await page.shows("#position-open", "RECORDED");
  });
  await check("without anything newer than the oldest browsers that the page takes, all is there", async () => {
    await page.without("SharedWorker", "BroadcastChannel", "structuredClone", "AbortSignal.timeout", "AbortSignal.any", "Array.prototype.at", "String.prototype.at",
      "Object.hasOwn", "Array.prototype.findLast", "Array.prototype.findLastIndex", "Array.prototype.toSorted", "Intl.Segmenter", "OffscreenCanvas",
      "Promise.withResolvers", "Object.groupBy", "URL.canParse", "requestIdleCallback", "crypto.randomUUID", "HTMLDialogElement.prototype.showModal");
    want(await browser.ev(() => typeof SharedWorker === "undefined" && typeof AbortSignal.timeout === "undefined"), "nothing was taken away: this check shows nothing");
    await page.shows("#position-open", "RECORDED");
    await page.press("#whole-job");
    await page.settled();
    want(coloursInMiddle(await page.picture()) > 60, "no picture");
    await browser.goto("about:blank");
  });
  await check("the console is clean then, too", () => want(browser.complaints.length === 0, browser.complaints.join(" | ")));
  browser.complaints.length = 0;
}

export async function secure({ page, browser, check, shot, hotspot, laptops: { secure: laptop } }) {
  let small = "";
  const kept = () => browser.ev(async () => {
    let [tiles, documents] = [0, 0];
    for (const name of await caches.keys()) {
      const n = (await (await caches.open(name)).keys()).length;
      if (/tile/.test(name)) tiles += n;
      else documents += n;
    }
    return { tiles, documents };
  });
  await check("a code with letters can be typed, and joins over HTTPS", async () => {
    await browser.goto(`${laptop.at}/`);
    await page.shows("h1", "Join this map");
    want(await browser.ev(() => document.getElementById("code").inputMode) === "text", "a phone shows no letters");
    await page.type("#code", laptop.code);
    await browser.keys("Enter");
    await page.until("both jobs to choose from", () => document.querySelectorAll(".jobs button").length === 2);
    want(await browser.ev(() => isSecureContext), "the page is not secure");
  });
  browser.complaints.length = 0;
  await check("of several packs one is chosen", async () => {
    for (const id of (await served(page)).all) if (!(await served(page, id)).records.some((r) => r.large)) small = id;
    const { all } = await served(page);
    await page.choose(all.indexOf(small));
    await page.ready();
    want((await browser.ev(() => location.hash)).includes(encodeURIComponent(small)), await browser.ev(() => location.hash));
  });
  await check("the page keeps documents and tiles", async () => {
    await page.until("a worker", () => navigator.serviceWorker.controller !== null || navigator.serviceWorker.ready.then(() => true));
    for (let i = 0; i < 60 && ((await kept()).tiles < 5 || (await kept()).documents < 5); i++) await pause(250);
    const { tiles, documents } = await kept();
    want(tiles >= 5 && documents >= 5, `${tiles} tiles and ${documents} documents`);
  });
  await check("a browser that can keep its screen on does so while something is measured, and no longer", async () => {
    const can = await browser.ev(() => {
      if (!("wakeLock" in navigator)) return false;
      const ask = navigator.wakeLock.request.bind(navigator.wakeLock);
      window.screenOn = { held: 0, refused: 0 };
      navigator.wakeLock.request = async (kind) => {
        const lock = await ask(kind).catch((e) => {
          window.screenOn.refused++; // a browser without a screen may refuse
          throw e;
        });
        window.screenOn.held++;
        lock.addEventListener("release", () => window.screenOn.held--);
        return lock;
      };
      return true;
    });
    if (!can) return console.log("     it cannot");
    await page.tool("Measure a length");
    await page.until("it is asked to", () => window.screenOn.held === 1 || window.screenOn.refused > 0);
    console.log(`     ${JSON.stringify(await browser.ev(() => window.screenOn))}`);
    await page.press("#measure-done");
    await page.until("it is given back", () => window.screenOn.held === 0);
  });
  await check("with the laptop gone, opened anew, the map is there and says that it is old", async () => {
    await page.press("#whole-job");
    await page.settled();
    hotspot.far(true);
    await browser.ev(() => location.reload()).catch(() => undefined);
    await pause(500);
    await page.ready();
    want(coloursInMiddle(await page.picture()) > 60, "no picture");
    await page.shows("#status", "[Ll]aptop out of reach");
    await page.goTo([-140.4970, 40.4984], 22);
    await shot("kept");
    hotspot.far(false);
    await page.until("it is back", () => !/out of reach/i.test(document.getElementById("status").innerText));
  });
  await check("the console says nothing but that the laptop was gone, once for each request", () => {
    const rest = browser.complaints.filter((c) => !unanswered.test(c) || /ServiceWorker/.test(c));
    want(rest.length === 0, rest.join(" | "));
  });
  browser.complaints.length = 0;
}

export async function largeRecord({ page, browser, check, shot }) {
  await check("a large record is drawn from vector tiles, and a tap tells its records", async () => {
    const packs = await Promise.all((await served(page)).all.map((id) => served(page, id)));
    const pack = packs.find((p) => p.records.some((r) => r.large));
    await browser.ev((id) => {
      location.hash = `#pack=${id}`;
      location.reload();
    }, pack.id).catch(() => undefined);
    await pause(500);
    await page.ready();
    await page.press("#whole-job");
    await page.settled();
    const small = pack.records.reduce((n, r) => n + r.count, 0);
    await page.until("records of a tile", (n) => window.groundsheet.map.getAllLayers()
      .reduce((sum, l) => sum + (l.getSource?.()?.getFeatures?.().length ?? 0), 0) > n + 20, small);
    await shot("large");
    const one = await browser.ev(async (all, [[west, east], [south, north]]) => (await (await fetch(all)).json()).features
      .find(({ geometry: { coordinates: [x, y] } }) => x > west && x < east && y > south && y < north), pack.records.find((r) => r.large).url, pack.box);
    await page.goTo(one.geometry.coordinates, 24);
    await pause(400);
    await page.settled();
    await browser.tap(await page.pixelOf(one.geometry.coordinates));
    await page.until("its depth", () => /Readings without end|[0-9]′ \d+″/.test(document.querySelector("#sheet.open #sheet-body")?.innerText ?? ""));
  });
}

/** What was asked for besides the laptop. */
export async function atSea({ check, browser, hotspot, name }) {
  await check("the console is clean at the end", () => want(browser.complaints.length === 0, browser.complaints.join(" | ")));
  await check("nothing was asked of another host", () => {
    const own = { chromium: /\.(googleapis|google)\.com$/, firefox: /\.mozilla\.(com|org|net)$|^update\.googleapis\.com$/, webkit: /^$/ }[name]; // the browser's own, which no page asks for
    const others = hotspot.strangers().filter((h) => !own.test(h));
    want(others.length === 0, others.join(" "));
  });
}
