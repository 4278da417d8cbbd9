// From an empty folder to a served map, in three engines and by pointing alone; the command line then
// makes the same pack of the files:
//   node --experimental-websocket test/desk/walk.mjs [--shots DIR] [--engine NAME…]
import { cp, mkdir, readFile, readdir, rm, writeFile } from "node:fs/promises";
import { execFileSync } from "node:child_process";
import { basename, join as path } from "node:path";
import { parseArgs } from "node:util";
import { missing, names, open } from "../engines/index.mjs";
import { openHotspot } from "../engines/hotspot.mjs";
import { check, tally, want } from "../harness.mjs";
import { run, startDesk, tempFolder } from "./harness.mjs";
import { deskPage, drawArea, join, prepare, serve } from "./journey.mjs";

const { values: { shots, engine } } = parseArgs({ options: { shots: { type: "string" }, engine: { type: "string", multiple: true } } });
if (shots) await mkdir(shots, { recursive: true });

/** All that a pack holds, byte for byte as text, but when it was written and the two seals over that. */
const dump = (file) => execFileSync("sqlite3", [file, ".dump"], { maxBuffer: 1 << 28, encoding: "utf8" })
  .replace(/"packed":"[^"]*"/, '"packed":""').replace(/"(document about|seal)":"[0-9a-f]*"/g, '"$1":""');

async function walk(name) {
  const folder = await tempFolder();
  const home = path(folder.dir, "home");
  const jobs = path(folder.dir, "jobs");
  await mkdir(jobs);
  await check(`${name}: from an empty folder to a served map, without typing a coordinate`, () => point(name, home, jobs));
  await check(`${name}: of the files that it leaves, the command line makes the same pack`, () => same(home, jobs, folder.dir));
  await folder.remove();
}

/** The whole way in one engine. */
async function point(name, home, jobs) {
  const desk = await startDesk({ folders: [jobs], home });
  const loop = await openHotspot("127.0.0.1"); // nobody else is reached
  let browser;
  try {
    browser = await open(name, { width: 1440, height: 900, density: 1, proxy: loop.proxy });
    const page = deskPage(browser);
    const shot = async (what) => (shots ? writeFile(path(shots, `walk-${name}-${what}.png`), await browser.shot()) : undefined);
    try {
      await browser.goto(desk.link);
      await page.until("the desk", () => document.body.dataset.state === "ready");
      await drawArea(page);
      await shot("drawn");
      await prepare(page, "Larkwater 7");
      const link = await serve(page, browser);
      await shot("packed");
      want(browser.complaints.length === 0, browser.complaints.join(" | "));
      await join(page, browser, link);
      await shot("served");
    } catch (e) {
      await shot("failed").catch(() => undefined);
      throw e;
    }
  } finally {
    await browser?.close();
    await loop.close();
    await desk.stop();
  }
}

/** Packs again with the command line: as the files stand, and from a copy of them without the pack. */
async function same(home, jobs, dir) {
  const [name] = await readdir(jobs);
  const site = path(jobs, name);
  const pack = path(site, "out", (await readdir(path(site, "out"))).find((f) => f.endsWith(".mbtiles")));
  const before = await readFile(pack);
  const plan = await run(home, "plan", site);
  want(plan.code === 0, plan.out);
  const again = await run(home, "pack", site);
  want(again.code === 0 && (await readFile(pack)).equals(before), again.out);
  const copy = path(dir, "copy", name);
  await cp(site, copy, { recursive: true });
  await rm(path(copy, "out"), { recursive: true });
  const fresh = await run(home, "pack", copy);
  want(fresh.code === 0, fresh.out);
  const [a, b] = [dump(pack), dump(path(copy, "out", basename(pack)))];
  if (shots && a !== b) await Promise.all([writeFile(path(shots, "walk-desk.sql"), a), writeFile(path(shots, "walk-fresh.sql"), b)]);
  want(a === b, "it holds something else");
}

const queue = [...(engine ?? names)];
for (const name of queue) {
  const lacking = missing(name);
  if (lacking === "") continue;
  console.error(`${name}: ${lacking}`);
  process.exit(2);
}
/** One engine after another; two at a time are quicker, since much of it is waiting. */
const walkSome = async () => {
  for (let name = queue.shift(); name; name = queue.shift()) await walk(name);
};
await Promise.all([walkSome(), walkSome()]);
process.exit(tally.failed > 0 ? 1 : 0);
