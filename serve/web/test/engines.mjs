// The whole page in the engines that phones have, each from joining to the laptop gone:
//   node --experimental-websocket test/engines.mjs --program bin/groundsheet --pack FILE --large FILE --shots DIR [--engine NAME…]
// The large pack holds a record that is drawn from vector tiles. What is particular to one
// screen or one state is looked at in Chromium alone, by browser.mjs and others.
import { copyFile, mkdir, mkdtemp, rename, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { missing, names, open } from "./engines/index.mjs";
import { laptop, openHotspot } from "./engines/hotspot.mjs";
import { mapPage, takeAway } from "./engines/mappage.mjs";
import { within } from "./engines/process.mjs";
import { atSea, firstVisit, gone, largeRecord, looks, oldBrowsers, position, secure, sight, tools, touching } from "./engines/steps.mjs";
import { startServer } from "./fieldserver.mjs";
import { epoch } from "./receiver.mjs";

const { values } = parseArgs({ options: {
  program: { type: "string" }, pack: { type: "string" }, large: { type: "string" }, shots: { type: "string" }, engine: { type: "string", multiple: true },
} });
if (!values.program || !values.pack || !values.large || !values.shots) {
  console.error("use: node --experimental-websocket test/engines.mjs --program bin/groundsheet --pack FILE --large FILE --shots DIR [--engine NAME…]");
  process.exit(2);
}
const engines = values.engine ?? names;
const mostMs = 240_000; // for one engine, on a machine with other work

/** A recording of a receiver that stands in the dig area for two minutes, over and over. */
function recording() {
  const began = Date.UTC(2026, 10, 18, 15, 0, 0);
  return Array.from({ length: 120 }, (_, s) => epoch([-140.49674, 40.4986], { sigma: 0.014, time: new Date(began + s * 1000) })).join("");
}

/** Field servers with a folder of their own; what they say of their address is under the laptop's name. */
async function servers(folder) {
  const pack = join(folder, "served.mbtiles");
  await copyFile(values.pack, pack);
  const walk = join(folder, "walk.nmea");
  await writeFile(walk, recording());
  const started = [];
  const begin = async (packs, ...more) => {
    const s = await startServer(values.program, packs, join(folder, "config"), "--name", laptop.replace(".local", ""), ...more);
    started.push(s);
    return { ...s, at: s.at.replace("127.0.0.1", laptop), link: s.link.replace("127.0.0.1", laptop) };
  };
  const large = join(folder, "large.mbtiles");
  await copyFile(values.large, large);
  return {
    plain: await begin([pack], "--position", `file:${walk}?loop`),
    // Two packs, a code with letters, and HTTPS.
    secure: await begin([pack, large], "--https", "--join-code", "larkwater9xyz"),
    async exchange() {
      const next = join(folder, "next.mbtiles");
      await copyFile(values.pack, next);
      await rename(next, pack);
    },
    stop: () => Promise.all(started.map((s) => s.stop())),
  };
}

/** All steps in one engine. Gives the names of the checks that failed. */
async function inEngine(name) {
  const began = Date.now();
  const tally = { passed: 0, failed: [] };
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-engine-"));
  const [hotspot, laptops] = [await openHotspot(), await servers(folder)];
  let browser;
  try {
    browser = await open(name, { proxy: hotspot.proxy, before: takeAway });
    const page = mapPage(browser);
    /** Runs one named check; a failure is told and counted, and the rest still runs. */
    const check = async (what, f) => {
      const at = Date.now();
      try {
        await f();
        tally.passed++;
        console.log(`ok   ${name}: ${what} (${((Date.now() - at) / 1000).toFixed(1)} s)`);
      } catch (e) {
        tally.failed.push(what);
        console.log(`FAIL ${name}: ${what}: ${e.message}`);
        await browser.shot().then((png) => writeFile(join(values.shots, `${name}-failed-${tally.failed.length}.png`), png)).catch(() => undefined);
        await browser.ev(() => document.querySelector("#sheet.open #sheet-close")?.click()).catch(() => undefined);
      } finally {
        hotspot.far(false);
      }
    };
    const shot = async (what) => writeFile(join(values.shots, `${name}-${what}.png`), await browser.shot());
    const all = { page, browser, check, shot, hotspot, laptops, name };
    await within(mostMs, name, (async () => {
      for (const step of [firstVisit, sight, touching, tools, looks, position, gone, oldBrowsers, secure, largeRecord, atSea]) await step(all);
    })());
  } catch (e) {
    tally.failed.push(e.message);
    console.log(`FAIL ${name}: ${e.stack}`);
  } finally {
    await browser?.close();
    await hotspot.close();
    await laptops.stop();
    await rm(folder, { recursive: true, force: true });
  }
  console.log(`${name}: ${tally.passed} passed, ${tally.failed.length} failed, ${((Date.now() - began) / 1000).toFixed(0)} s`);
  return tally.failed;
}

for (const name of engines) {
  const lacking = names.includes(name) ? missing(name) : `there is no engine ${name}, only ${names.join(", ")}`;
  if (lacking === "") continue;
  console.error(`${name}: ${lacking}`);
  process.exit(2);
}
await mkdir(values.shots, { recursive: true });
const queue = [...engines];
const failed = [];
/** One engine after another; two at a time are quicker, since much of it is waiting. */
const walkSome = async () => {
  for (let name = queue.shift(); name; name = queue.shift()) failed.push(...(await inEngine(name)).map((what) => `${name}: ${what}`));
};
await Promise.all([walkSome(), walkSome()]);
for (const what of failed) console.log(`FAILED ${what}`);
process.exit(failed.length > 0 ? 1 : 0);
