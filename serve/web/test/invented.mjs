// Checks of the page with answers the server's pack does not hold: records,
// lists and terms invented here and given in place of the server's.
import { join } from "node:path";
import { check, goTo, mapShot, noticesOf, openFound, openPage, settled, statusOf, tapMiddle, want, mercator, middleOf } from "./harness.mjs";
import { colourAt, coloursInMiddle, shareInRow } from "./pixels.mjs";

const desk = { width: 1440, height: 900, density: 1, touch: false, zone: "America/Phoenix" };
const phone = { width: 390, height: 844, density: 2, touch: true, zone: "America/Phoenix" };
const blue = "#005A98";

/** Degrees for metres east and north of a place. */
const offset = ([lon, lat], east, north) =>
  [lon + east / (111_320 * Math.cos((lat * Math.PI) / 180)), lat + north / 111_320];

/** The looks of the server's own pack, which holds water too. */
let styles = {};

const collection = (features) => ({ type: "FeatureCollection", features });
const point = (coordinates, properties) => ({ type: "Feature", properties, geometry: { type: "Point", coordinates } });
const line = (coordinates, properties) => ({ type: "Feature", properties, geometry: { type: "LineString", coordinates } });

/** One record of water mains and the answer with its features. */
const layer = (id, features, more = {}) => ({
  about: {
    id, title: `Invented ${id}`, utility: "water", utility_name: "potable water", letter: "W", colour: blue, casing: "#FFFFFF",
    quality_level: "D", recorded: "1998-05-01", owner: "an invented town", record: "an invented sheet", accuracy_m: null,
    features: features.length, url: `/invented/${id}.geojson`, note: "", ...more,
  },
  features,
});

/** Opens the page with some answers replaced, by what their address ends with. */
async function open(site, screen, answers) {
  const opened = await openPage(screen);
  for (const [end, body] of Object.entries(answers)) {
    await opened.page.route((url) => url.pathname.endsWith(end), (route) => route.fulfill({ json: body }));
  }
  const tiles = [];
  opened.page.on("request", (r) => /\/tiles\/\d+\//.test(r.url()) && tiles.push(r.url()));
  await opened.page.goto(site.href);
  return { ...opened, tiles };
}

const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });

const records = (...layers) => Object.fromEntries([
  ["/overlays.json", { overlays: layers.map((l) => l.about), styles }],
  ...layers.map((l) => [l.about.url, collection(l.features)]),
]);

/** Taps what lies at a place, and reads the sheet. */
async function told(page, screen, place) {
  await goTo(page, place, 21);
  await tapMiddle(page, screen);
  await openFound(page);
  const text = await page.locator("#sheet-body").innerText();
  await page.keyboard.press("Escape");
  return text.replace(/\s+/g, " ");
}

/** A wide job whose pack holds nothing but the deepest zoom. */
async function deepOnly(site, f, shots) {
  const deepest = f.tiles.maxzoom;
  const centre = f.reading.geometry.coordinates;
  const ring = Array.from({ length: 65 }, (_, i) => offset(centre, 457 * Math.cos((i * Math.PI) / 32), 457 * Math.sin((i * Math.PI) / 32)));
  ring[64] = ring[0];
  const area = { type: "Feature", properties: { part: "area" }, geometry: { type: "Polygon", coordinates: [ring] } };
  const bounds = [...offset(centre, -457, -457), ...offset(centre, 457, 457)];
  const { browser, page, tiles } = await open(site, desk, {
    "/about.json": { ...f.about, shallowest_zoom: deepest },
    "/tilejson.json": { ...f.tiles, minzoom: deepest, shrunk_zoom: deepest, bounds }, // as of a server that shrinks none
    "/area.geojson": collection([area]),
  });
  await check("one zoom, wide job: the whole of it opens at once and asks for no tile", async () => {
    const began = Date.now();
    await ready(page);
    await settled(page);
    want(Date.now() - began < 5000, `took ${Date.now() - began} ms`);
    want(tiles.length === 0, `${tiles.length} tiles asked for`);
    want((await noticesOf(page)).text === "no picture this far out · zoom in", "not told to zoom in");
  });
  await page.screenshot({ path: join(shots, "one-zoom.png") });
  await check("one zoom, wide job: nearer there is a picture, for few tiles", async () => {
    const at = deepest + Math.log2(f.about.tile_size / 256);
    await goTo(page, centre, at - 2);
    want(!(await noticesOf(page)).all.includes("no-picture"), "still told to zoom in");
    await goTo(page, centre, at);
    want(coloursInMiddle(await mapShot(page)) > 60, "no picture");
    want(tiles.length > 0 && tiles.length < 500, `${tiles.length} tiles asked for`);
  });
  await check("one zoom, wide job: beyond the picture it says that there is none", async () => {
    await goTo(page, offset(centre, 800, 0), deepest + Math.log2(f.about.tile_size / 256) + 2);
    want((await noticesOf(page)).text.includes("no picture here"), "nothing is said");
    want(!(await page.locator("#pixel").textContent()).includes("enlarged"), "blank ground is called enlarged");
  });
  await browser.close();
}

/** Ground in view beyond the margin, where the server can only enlarge. */
async function beyondMargin(site, f) {
  const area = await (await fetch(new URL(f.about.area, site))).json();
  const centre = f.reading.geometry.coordinates;
  const corners = [[-150, -150], [150, -150], [150, 150], [-150, 150], [-150, -150]].map(([e, n]) => offset(centre, e, n));
  const wide = { "/tilejson.json": { ...f.tiles, bounds: [...corners[0], ...corners[2]] } };
  const margin = { type: "Feature", properties: { part: "margin" }, geometry: { type: "Polygon", coordinates: [corners] } };
  for (const [name, told, answers] of [
    ["the margin not: no word of it", false, wide],
    ["the margin too: it is told", true, { ...wide, "/area.geojson": collection([...area.features, margin]) }],
  ]) {
    await check(`enlarged ground in view, ${name}`, async () => {
      const { browser, page } = await open(site, desk, answers);
      await ready(page);
      await settled(page);
      const text = await page.locator("#pixel").textContent();
      await browser.close();
      want(text.includes("enlarged") === told, `“${text}”`);
    });
  }
}

/** Lines and points that state more, or less, than their record. */
async function ownWords(site, f, shots) {
  const centre = f.reading.geometry.coordinates;
  const at = (east, north) => offset(centre, east, north);
  const across = (north) => [at(-15, north), at(15, north)];
  const mains = layer("mains", [
    line(across(12), { quality_level: "A", recorded: "2024-06-01", owner: "an invented mill" }),
    line(across(8), {}),
    line(across(4), { quality_level: "seen in a trench" }),
  ]);
  const points = layer("points", [
    point(at(-12, -4), { depth: "3ft 5in", depth_m: 1.0414, frequency_hz: 8192, date: "2026-11-18T03:10:00Z", accuracy: "2in", accuracy_m: 0.0508 }),
    point(at(0, -4), { depth: "9.2ft", depth_m: 2.80416 }),
    point(at(12, -4), { depth_m: 1, depth_of: "top of pipe", accuracy_m: 0.05 }),
    point(at(0, -12), { label: "valve", surveyed: "2020-01-02T18:00:00Z" }),
    point(at(12, -12), { depth_m: 0.9144, frequency_hz: 8192, size: "12 in", width_m: 0.3048 }),
  ]);
  const empty = layer("empty", []);
  const { browser, page } = await open(site, desk, { "/about.json": { ...f.about, units: "us" }, ...records(mains, points, empty) });
  await ready(page);
  await check("own level: the dash is the part's, not the record's", async () => {
    await goTo(page, centre, 21);
    const shot = await mapShot(page);
    const share = async (north) => {
      const [x, y] = await pixelOf(page, at(0, north));
      return shareInRow(shot, blue, Math.round(x) - 220, Math.round(x) + 220, Math.round(y));
    };
    const [a, d] = [await share(12), await share(8)];
    want(a > 0.7, `level A is broken: ${a}`);
    want(d > 0.2 && d < 0.6, `level D is not as broken as it should be: ${d}`);
  });
  await page.screenshot({ path: join(shots, "own-words.png") });
  await ownWordsInSheet(page, at);
  await check("layers: points have a point for a swatch, several levels are named, an empty record is called so", async () => {
    const rows = page.locator(".records li");
    want(await rows.nth(0).locator('[data-sample="line"]').count() === 1, "the mains have no line");
    want(await rows.nth(1).locator('[data-sample="points"]').count() === 1, "the points have no dot");
    const text = await rows.allInnerTexts();
    want(text[0].includes("levels A, D, seen in a trench, by part"), text[0]);
    want(text[2].includes("nothing recorded in it") && !text[1].includes("nothing recorded"), text[2]);
  });
  await browser.close();
}

async function ownWordsInSheet(page, at) {
  const cases = [
    ["a line with a level, date and owner of its own", at(-10, 12), ["recorded line", "A: that part was exposed", "2024-06-01", "an invented mill"], ["1998", "whole record", "an invented town"]],
    ["a line without", at(-10, 8), ["D: records", "1998-05-01", "as stated for the whole record", "an invented town"], ["A:"]],
    ["a level in words", at(-10, 4), ["level as recorded: seen in a trench"], ["D: records"]],
    ["a reading with a signal", at(-12, -4), ["water, reading", "3′ 5″ to the center of the signal, an estimate", "From the ground as it was that day. Do not dig to it.", "Depth as written 3ft 5in", "2026-11-17, 8:10 PM", "placed within 2 in", "how far off the depth may be is not stated", "Top of the pipe not known"], ["depth_m", "accuracy_m", "03:10:00Z"]],
    ["a depth without a sign of how", at(0, -4), ["water, recorded point", "9′ 2″ to a part that is not stated", "Depth as written 9.2ft", "Do not dig to it."], ["signal", "reading"]],
    ["a depth that says to what", at(12, -4), ["water, reading", "3′ 3″ to the top of the pipe, as the record states", "From the ground as it was that day."], ["signal", "Top of the pipe"]],
    ["a signal over a pipe of known size", at(12, -12), ["3′ 0″ to the center of the signal", "Top of the pipe about 2′ 6″: half of the size (12 in) taken off."], ["not known"]],
    ["a valve", at(0, -12), ["water, recorded point", "recorded point valve", "Depth not known", "2020-01-02, 11:00 AM"], ["reading", "dig to it", "Top of the pipe"]],
  ];
  for (const [name, place, present, absent] of cases) {
    await check(`details: ${name}`, async () => {
      const text = await told(page, desk, place);
      for (const p of present) want(text.includes(p), `“${p}” is not in “${text}”`);
      for (const p of absent) want(!text.includes(p), `“${p}” is in “${text}”`);
    });
  }
}

const pixelOf = (page, [lon, lat]) => page.evaluate(([x, y]) => window.groundsheet.map.getPixelFromCoordinate([
  (x * Math.PI / 180) * 6378137, 6378137 * Math.log(Math.tan(Math.PI / 4 + (y * Math.PI) / 360)),
]), [lon, lat]);

/** A row of readings close together: no depth may cover a dot. */
async function crowded(site, f, shots) {
  const centre = f.reading.geometry.coordinates;
  const row = Array.from({ length: 8 }, (_, i) => offset(centre, (i - 3.5) * 1.8, 0));
  const { browser, page } = await open(site, desk, records(
    layer("odd", row.filter((_, i) => i % 2).map((p, i) => point(p, { depth_m: 1 + i / 10, frequency_hz: 8192 }))),
    layer("even", row.filter((_, i) => i % 2 === 0).map((p, i) => point(p, { depth_m: 2 + i / 10, frequency_hz: 8192 })))));
  await ready(page);
  const hidden = async () => /depth/.test((await noticesOf(page)).text);
  await check("crowded readings: every dot stays in sight, and depths left out are told of", async () => {
    for (const zoom of [20.5, 21, 22]) {
      await goTo(page, centre, zoom);
      const shot = await mapShot(page);
      for (const p of row) {
        const [x, y] = await pixelOf(page, p);
        want(colourAt(shot, [x, y - 3], blue, 12), `a dot is covered at zoom ${zoom}`); // above its middle, where the sign of an unwritten depth stands
      }
      if (zoom === 20.5) want(/^\d depths? hidden · zoom in$/.test((await noticesOf(page)).text), JSON.stringify(await noticesOf(page)));
      await page.screenshot({ path: join(shots, `crowded-${zoom}.png`) });
    }
  });
  await check("crowded readings: near enough nothing is left out, and nothing said", async () => {
    await goTo(page, centre, 23);
    want(!(await hidden()), "still told of");
  });
  await check("crowded readings: a record put off makes room", async () => {
    await goTo(page, centre, 20.5);
    want(await hidden(), "nothing is left out with both on");
    await page.locator('input[data-overlay="even"]').uncheck();
    await settled(page);
    want(!(await hidden()), "still left out with one off");
  });
  await browser.close();
}

/** A tap where nothing is drawn. */
async function emptyGround(site, f, screen, name, shots) {
  const centre = f.reading.geometry.coordinates;
  const { browser, page } = await open(site, screen, records(layer("far", [point(offset(centre, 500, 0), {})])));
  await ready(page);
  const toast = page.locator("#toast");
  await check(`empty ground, ${name}: a line says what it means, where, and goes again`, async () => {
    await goTo(page, centre, 21);
    await tapMiddle(page, screen);
    await toast.locator("p").first().waitFor({ timeout: 3000 });
    const text = await toast.innerText();
    want(text.includes("Nothing recorded here in this pack. That does not mean nothing is there."), text);
    const [, lat, lon] = /Latitude (-?\d+\.\d{7}), longitude (-?\d+\.\d{7})/.exec(text) ?? [];
    const [x, y] = mercator(Number(lon), Number(lat)); // the middle of the free map, wherever the map lies by now
    const off = await page.evaluate(([at, to]) => Math.hypot(...window.groundsheet.map.getPixelFromCoordinate(at).map((v, i) => v - to[i])), [[x, y], await middleOf(page)]);
    want(off < 2, `“${text}” is ${off} pixels from where it was tapped`);
    await page.screenshot({ path: join(shots, `empty-ground-${name}.png`) });
    await toast.locator("p").first().waitFor({ state: "detached", timeout: 12_000 });
  });
  if (screen === desk) {
    await check("empty ground: with a layer off nothing is said of the pack", async () => {
      await page.locator('input[data-overlay="far"]').uncheck();
      await tapMiddle(page, screen);
      await toast.locator("p").first().waitFor({ timeout: 3000 });
      const text = await toast.innerText();
      want(!text.includes("Nothing recorded") && text.includes("1 layer is off") && text.includes("does not mean nothing"), text);
    });
  }
  await browser.close();
}

/** What is told of the job, and of several. */
async function lists(site, f, shots) {
  const fetched = { oldest: "2026-11-20T15:00:00Z", newest: "2026-11-20T16:00:00Z" };
  const job = await open(site, phone, { "/about.json": { ...f.about, fetched, expected_missing: ["electric", "gas"] } });
  await ready(job.page);
  await check("job: utilities without a record stand on the page itself", async () => {
    want(/No record of: electric, gas/.test((await statusOf(job.page)).text), (await statusOf(job.page)).text);
  });
  await check("job: all cautions are listed, one day of fetching is one day", async () => {
    await job.page.click("#caution");
    want(await job.page.locator("#sheet-body .cautions li").count() === f.about.cautions.length, "cautions are missing");
    await job.page.click("#sheet-close");
    await job.page.click("#show-layers");
    const text = await job.page.locator("#sheet-body").innerText();
    want(/Fetched\s+2026-11-20\s/.test(text) && !text.includes("2026-11-20 to"), text);
  });
  await job.browser.close();

  const packs = [
    { id: "a", name: "Invented job", number: "24-1", source: "county picture", deepest_zoom: 21, packed: "2026-11-20T15:00:00Z", about: "/packs/a/about.json" },
    { id: "b", name: "Invented job", about: "/packs/b/about.json" },
  ];
  const { browser, page } = await open(site, phone, { "/packs.json": { packs } });
  await check("several packs: each says what tells it from the others", async () => {
    await page.locator('body[data-state="choosing"]').waitFor({ timeout: 10_000 });
    const [a, b] = await page.locator(".jobs li").allInnerTexts();
    for (const word of ["Invented job", "24-1", "county picture", "deepest zoom 21", "packed 2026-11-20"]) want(a.includes(word), a);
    want(b.trim() === "Invented job", `“${b}” says what it was not told`);
    await page.screenshot({ path: join(shots, "choosing.png") });
  });
  await browser.close();
}

/** Runs all checks of this file against a server with any pack. */
export async function inventedAnswers(site, f, shots) {
  ({ styles } = await (await fetch(new URL(f.about.overlays, site))).json());
  await deepOnly(site, f, shots);
  await beyondMargin(site, f);
  await ownWords(site, f, shots);
  await crowded(site, f, shots);
  await emptyGround(site, f, phone, "phone", shots);
  await emptyGround(site, f, desk, "desk", shots);
  await lists(site, f, shots);
}
