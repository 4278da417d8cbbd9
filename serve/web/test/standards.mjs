// Proves that a map program of somebody else draws the packs of a running field
// server from one address alone, by each standard:
//   node test/standards.mjs --url http://127.0.0.1:PORT --shots DIR
// The program is OpenLayers with nothing of ours, on a page of its own.
import { mkdir, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { build } from "esbuild";
import { check, mercator, openPage, tally, want } from "./harness.mjs";
import { coloursInMiddle, decode } from "./pixels.mjs";

const { values } = parseArgs({ options: { url: { type: "string" }, shots: { type: "string" } } });
if (!values.url || !values.shots) {
  console.error("use: node test/standards.mjs --url http://127.0.0.1:PORT --shots DIR");
  process.exit(2);
}
const site = new URL(values.url);
const answer = async (path) => {
  const r = await fetch(new URL(path, site));
  want(r.ok, `${path} answered ${r.status}`);
  return r.json();
};

const here = dirname(fileURLToPath(import.meta.url));
const { outputFiles } = await build({
  absWorkingDir: here, entryPoints: ["strangers/page.mjs"], bundle: true, format: "iife", write: false, logLevel: "warning",
});
const html = `<!doctype html><meta charset="utf-8"><title>another program</title>
<style>body { margin: 0 } #map { width: 700px; height: 500px; background: #fff }</style>
<div id="map"></div><script src="/stranger.js"></script>`;

/** The page is put at the server's own address, so that it may read what it draws. */
async function stranger() {
  const opened = await openPage({ width: 700, height: 500, density: 1, touch: false });
  await opened.page.route(new URL("/stranger.html", site).href, (r) => r.fulfill({ contentType: "text/html", body: html }));
  await opened.page.route(new URL("/stranger.js", site).href, (r) => r.fulfill({ contentType: "text/javascript", body: outputFiles[0].text }));
  await opened.page.goto(new URL("/stranger.html", site).href);
  return opened;
}

/** How many pixels differ. */
function difference(a, b) {
  want(a.width === b.width && a.height === b.height, "pictures of different sizes");
  let n = 0;
  for (let i = 0; i < a.data.length; i += 4) {
    if (a.data[i] !== b.data[i] || a.data[i + 1] !== b.data[i + 1] || a.data[i + 2] !== b.data[i + 2]) n++;
  }
  return n;
}

const { packs } = await answer("/packs.json");
const about = await answer(packs[0].about);
const t = await answer(about.tilejson);
const id = packs[0].id;
const center = mercator((t.bounds[0] + t.bounds[2]) / 2, (t.bounds[1] + t.bounds[3]) / 2);
const wmts = new URL("/wmts/1.0.0/WMTSCapabilities.xml", site).href;
const ways = {
  "WMTS by addresses": ["wmts", { url: wmts, layer: id, encoding: "REST" }, `/packs/${id}/tiles/`],
  "WMTS by questions": ["wmts", { url: wmts, layer: id, encoding: "KVP" }, "Request=GetTile"],
  "WMTS, the program's own choice, one pack": ["wmts", { url: new URL(`/packs/${id}/wmts/1.0.0/WMTSCapabilities.xml`, site).href, layer: id }, ""],
  "OGC API - Tiles": ["tileset", { url: new URL(`/collections/${id}/map/tiles/WebMercatorQuad`, site).href }, "/map/tiles/WebMercatorQuad/"],
};

await mkdir(values.shots, { recursive: true });
const { browser, page, complaints, strangers } = await stranger();
for (const zoom of [t.maxzoom, t.maxzoom - 1]) {
  const resolution = (2 * Math.PI * 6378137) / 256 / 2 ** zoom;
  const draw = async (way, facts) => {
    const asked = await page.evaluate(([w, f, c, r]) => window.draw(w, f, c, r), [way, facts, center, resolution]);
    return { asked, shot: await page.locator("#map").screenshot() };
  };
  const plain = await draw("tilejson", { url: new URL(about.tilejson, site).href });
  await check(`zoom ${zoom}: there is a picture to compare with`, () => {
    const n = coloursInMiddle(decode(plain.shot));
    want(n > 40, `only ${n} colours`);
  });
  for (const [name, [way, facts, trace]] of Object.entries(ways)) {
    await check(`zoom ${zoom}: ${name}: the same pixels from its document alone`, async () => {
      const { asked, shot } = await draw(way, facts);
      want(asked.length > 0 && asked.some((url) => url.includes(trace)), `it asked for ${asked.slice(0, 3)}`);
      await writeFile(join(values.shots, `stranger-${zoom}-${way}.png`), shot);
      const n = difference(decode(shot), decode(plain.shot));
      want(n === 0, `${n} pixels differ`);
    });
  }
}
await check("no complaint, and nothing asked of anybody else", () => {
  want(complaints.length === 0 && strangers.length === 0, [...complaints, ...strangers].join(" | "));
});
await browser.close();

/** The status page is for people on any screen, and has no script. */
async function statusOn(screen) {
  const opened = await openPage(screen);
  await opened.page.goto(new URL("/status", site).href);
  await check(`${screen.name}: the status page tells of each pack, and is no wider than the screen`, async () => {
    const words = await opened.page.locator("main").innerText();
    for (const pack of packs) want(words.includes(pack.name), `${pack.name} is not in “${words.slice(0, 200)}”`);
    const over = await opened.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    want(over <= 0, `${over} pixels too wide`);
    want(await opened.page.locator("script").count() === 0, "it has a script");
    want(opened.complaints.length === 0, opened.complaints.join(" | "));
  });
  await opened.page.screenshot({ path: join(values.shots, `status-${screen.name}.png`), fullPage: true });
  await opened.browser.close();
}
await statusOn({ name: "phone", width: 390, height: 844, density: 2, touch: true });
await statusOn({ name: "desk", width: 1440, height: 900, density: 1, touch: false });
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exitCode = tally.failed > 0 ? 1 : 0;
