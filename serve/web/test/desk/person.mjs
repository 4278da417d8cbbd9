// A person with pauses, from an empty folder to packing: an area that is drawn, one source, two files of
// records that are dropped. Tells the time and the presses:  node test/desk/person.mjs [--bench]
// The person's own time is asserted; with --bench that of the machine too.
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { openHotspot } from "../engines/hotspot.mjs";
import { open } from "../engines/index.mjs";
import { parseArgs } from "node:util";
import { load } from "../frames.mjs";
import { check, tally, want } from "../harness.mjs";
import { startDesk, tempFolder } from "./harness.mjs";
import { deskPage, drawArea, prepare } from "./journey.mjs";

/** What it may take: the time in seconds, and the presses after the area is drawn. */
const most = { seconds: 120, presses: 10 };

const { values: { bench } } = parseArgs({ options: { shots: { type: "string" }, bench: { type: "boolean", default: false } } });
const folder = await tempFolder();
const jobs = join(folder.dir, "jobs");
await mkdir(jobs);
const desk = await startDesk({ folders: [jobs], home: join(folder.dir, "home") });
const loop = await openHotspot("127.0.0.1");
const browser = await open("chromium", { width: 1440, height: 900, density: 1, proxy: loop.proxy });
await check("under two minutes and ten presses from an empty folder to packing", async () => {
  await browser.goto(desk.link);
  const page = deskPage(browser, { human: true });
  await page.until("the desk", () => document.body.dataset.state === "ready");
  const began = Date.now();
  await page.look();
  await drawArea(page);
  const [drawn, before] = [(Date.now() - began) / 1000, page.clicks];
  await prepare(page, "Larkwater 7");
  await page.until("packing", () => document.querySelector("#panel-work .task, #panel-work .verdict") !== null);
  const [seconds, presses] = [(Date.now() - began) / 1000, page.clicks - before];
  const own = page.taken / 1000;
  console.log(`     ${seconds.toFixed(0)} s, of which ${own.toFixed(0)} s the person's own and ${drawn.toFixed(0)} s drawing; ${presses} presses after it; aim ${most.seconds} s; ${load()}`);
  want((bench ? seconds : own) < most.seconds && presses < most.presses, `${seconds} s, of which ${own} s the person's own, ${presses} presses`);
});
await browser.close();
await loop.close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
