// A base map that is drawn, of files and of vector tiles, from the source to the phone:  node test/desk/drawn.mjs [--shots DIR]
import { mkdir, readFile, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { parseArgs } from "node:util";
import { fileURLToPath } from "node:url";
import { startServer } from "../fieldserver.mjs";
import { check, goTo, mapShot, openFound, openPage, tally, tapMiddle, want } from "../harness.mjs";
import { program, run, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const phone = { width: 390, height: 844, density: 2, touch: true };
const town = join(dirname(fileURLToPath(import.meta.url)), "../../../../tiles/mvt/testdata/town.mbtiles");

/** Degrees for meters east and north of a corner of the invented town. */
const at = (east, north) => [-101.83 + east / 91_000, 35.21 + north / 111_000];
const feature = (type, coordinates, properties = {}) => ({ type: "Feature", properties, geometry: { type, coordinates } });
const box = (x, y, wide, high) => [[[0, 0], [wide, 0], [wide, high], [0, high], [0, 0]].map(([a, b]) => at(x + a, y + b))];
const write = (name, ...features) => writeFile(join(folder.dir, name), JSON.stringify({ type: "FeatureCollection", features }));
const cells = Array.from({ length: 24 }, (_, i) => [10 + (i % 6) * 40, 60 + Math.floor(i / 6) * 100]);
await write("dig.geojson", feature("Polygon", box(60, 130, 150, 150)));
await write("water.geojson", feature("Point", at(110, 205), { depth: "1.1 m" }), feature("LineString", [at(40, 205), at(230, 205)]));
await write("roads.geojson", ...[50, 150, 250, 350].map((y) => feature("LineString", [at(0, y), at(250, y)], { NAME: `West ${y} South` })));
await write("buildings.geojson", ...cells.map(([x, y]) => feature("Polygon", box(x, y, 24, 30))));

/** Makes a job on a source that `add` tells how to add, packs, checks and briefs it; gives its pack. */
async function makeJob(name, captured, ...add) {
  const job = join(folder.dir, name);
  const sources = join(folder.dir, `${name}.toml`);
  const all = async (...args) => {
    const { out, code } = await run(home, ...args, "--sources", sources);
    want(code === 0, `${args[0]}: ${out}`);
    return out;
  };
  await all("source", "add", ...add, "--name", name, "--to", sources);
  const text = (await readFile(sources, "utf8")).replace(/^# offline = .*$/m, 'offline = "allowed"').replace(/^# reference = .*$/m, 'reference = "our own files"')
    .replace(/^# attribution = .*$/m, 'attribution = "County GIS"').replace(/^# captured = "" +# of when the files are.*$/m, captured === "" ? "" : `captured = "${captured}"`);
  await writeFile(sources, text);
  await all("new", job, "--name", name, "--area", join(folder.dir, "dig.geojson"), "--source", name);
  await mkdir(join(job, "overlays"));
  await writeFile(join(job, "overlays", "water.geojson"), await readFile(join(folder.dir, "water.geojson")));
  await writeFile(join(job, "job.toml"), `${await readFile(join(job, "job.toml"), "utf8")}\n[[overlay]]\nfile = "overlays/water.geojson"\nutility = "water"\nquality_level = "D"\n`);
  const plan = await all("plan", job);
  want(plan.includes("its pixels say nothing of where things are"), plan);
  await all("pack", job);
  const pack = join(job, "out", `${name}.mbtiles`);
  want((await all("check", pack)).includes(": fit"), "not fit");
  await all("brief", pack);
  return pack;
}

/** How light the map is about the middle, 0 to 255: the middle one of all, and the share that is lines, 25 darker or lighter. */
async function light(page) {
  const { width, height, data } = await mapShot(page);
  const step = data.length / (width * height);
  const seen = [];
  for (let y = height / 4 | 0; y < height / 2; y += 2) for (let x = 0; x < width; x += 2) seen.push(data[(y * width + x) * step + 1]);
  const middle = seen.toSorted((a, b) => a - b)[seen.length >> 1];
  return { middle, lines: seen.filter((v) => Math.abs(v - middle) > 25).length / seen.length };
}

async function onThePhone(name, pack, deepest, files) {
  const server = await startServer(program, pack, home);
  const { browser, page } = await openPage(phone);
  try {
    await page.goto(server.link);
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    await page.evaluate(() => { for (const l of window.groundsheet.map.getLayers().getArray().slice(1)) l.setVisible(false); });
    for (const zoom of [deepest - 2, deepest, deepest + 3]) {
      await check(`${name}, zoom ${zoom}: it can be read by day, in the sun and by night`, async () => {
        await goTo(page, at(82, 148), zoom);
        for (const [look, least, most] of [["day", 220, 250], ["sun", 230, 255], ["night", 0, 60]]) {
          await page.evaluate((l) => {
            document.documentElement.dataset.theme = l;
            document.documentElement.classList.toggle("faint", l !== "day");
          }, look);
          const { middle, lines } = await light(page);
          if (shots) await page.screenshot({ path: join(shots, `drawn-${name}-${look}-${zoom}.png`) });
          want(middle >= least && middle <= most, `${look}: ${middle} in the middle`);
          want(lines > 0.002 || zoom > deepest, `${look}: ${(lines * 100).toFixed(2)} % are lines`);
        }
        want(/enlarged/.test(await page.locator("#pixel").textContent()) === zoom > deepest, `told: ${await page.locator("#pixel").textContent()}`);
      });
    }
    await page.evaluate(() => {
      document.documentElement.dataset.theme = "day";
      for (const l of window.groundsheet.map.getLayers().getArray()) l.setVisible(true);
    });
    await check(`${name}: what was recorded can be tapped, and Layers says what the map is and is not`, async () => {
      await goTo(page, at(110, 205), 19);
      await tapMiddle(page, phone);
      await openFound(page, "3′ 7″");
      await page.keyboard.press("Escape");
      await page.locator("#sheet").waitFor({ state: "hidden" });
      await page.click("#show-layers");
      const text = (await page.locator("#sheet-body").innerText()).replace(/\s+/g, " ");
      if (shots) await page.screenshot({ path: join(shots, `drawn-${name}-layers.png`) });
      for (const words of [`drawn from ${files}; it is no picture of the ground`, "how far off that may be is not stated", "street, as a line", "A fine line does not prove where a thing is"]) want(text.includes(words), `"${words}" is not in ${text}`);
      want(!/Finest picture|Picture date/.test(text), "it is told like a picture");
      want((await page.locator("#credit").innerText()).includes("County GIS"), "no credit");
    });
  } finally {
    await browser.close();
    await server.stop();
  }
}

try {
  await onThePhone("county", await makeJob("county", "2026-05", `street=${join(folder.dir, "roads.geojson")}`, join(folder.dir, "buildings.geojson")), 21, "files of 2026-05");
  await onThePhone("streets", await makeJob("streets", "", town), 18, "files of which nobody said how old they are");
} finally {
  await folder.remove();
}
process.exit(tally.failed > 0 ? 1 : 0);
