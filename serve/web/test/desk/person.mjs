// A person with pauses, from an empty folder to packing: an area that is drawn, one source, two files of
// records that are dropped. Tells the time and the presses:  node test/desk/person.mjs
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { openHotspot } from "../engines/hotspot.mjs";
import { open } from "../engines/index.mjs";
import { check, tally, want } from "../harness.mjs";
import { startDesk, tempFolder } from "./harness.mjs";
import { deskPage, drawArea, prepare } from "./journey.mjs";

/** What it may take: the time in seconds, and the presses after the area is drawn. */
const most = { seconds: 120, presses: 10 };

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
  console.log(`     ${seconds.toFixed(0)} s, of which ${drawn.toFixed(0)} s drawing; ${presses} presses after it`);
  want(seconds < most.seconds && presses < most.presses, `${seconds} s, ${presses} presses`);
});
await browser.close();
await loop.close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
