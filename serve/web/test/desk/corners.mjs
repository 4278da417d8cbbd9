// An area of 5,000 corners on the desk: a corner is dragged, near and with the whole of it in view,
// with its margin drawn.
//   node test/desk/corners.mjs [--bench]
import { mkdir, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, goTo, settled, tally, want } from "../harness.mjs";
import { fluid, openDesk, startDesk, tempFolder } from "./harness.mjs";

const { values: { bench } } = parseArgs({ options: { shots: { type: "string" }, bench: { type: "boolean", default: false } } });
const many = 5000;
const folder = await tempFolder();
const jobs = join(folder.dir, "jobs");
const site = join(jobs, "site");
await mkdir(site, { recursive: true });
const ring = Array.from({ length: many }, (_, i) => {
  const [a, r] = [(i / many) * 2 * Math.PI, 0.002 + 0.00001 * Math.sin(i * 1.7)];
  return [-140.49 + r * Math.cos(a), 40.49 + r * 0.76 * Math.sin(a)];
});
ring.push(ring[0]);
await writeFile(join(site, "large.geojson"), JSON.stringify({ type: "Polygon", coordinates: [ring] }));
await writeFile(join(site, "job.toml"), 'name = "Valve 12"\narea = ["large.geojson"]\nmargin = "50ft"\n\n[[base]]\nsource = "practice"\n');
const desk = await startDesk({ folders: [jobs], home: join(folder.dir, "home") });
const { page, complaints, close } = await openDesk(desk);

const drawn = (name) => page.evaluate((n) => window.groundsheet.map.getLayers().getArray().find((l) => l.get("name") === n)?.getSource().getFeatures()
  .reduce((sum, f) => sum + (f.getGeometry()?.getFlatCoordinates().length ?? 0) / 2, 0), name);
async function waitFor(what, f, seconds) {
  for (let i = 0; i < seconds * 10; i++) {
    if (await f()) return;
    await page.waitForTimeout(100);
  }
  throw new Error(`it does not come to be that ${what}`);
}
/** Drags the first corner of the ring eastwards, as a hand would; the map shows it in its middle. */
async function drag() {
  const box = await page.locator("#map").boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x + 2, y);
  await page.mouse.down();
  for (let i = 0; i < 40; i++) {
    await page.mouse.move(x + 2 + i * 2, y);
    await page.waitForTimeout(16);
  }
  await page.mouse.up();
  await page.waitForTimeout(1500);
}
const savable = () => page.locator("#draw button.main").isEnabled();

await page.locator("#jobs .job", { hasText: "Valve 12" }).first().click();
await page.waitForFunction(() => document.querySelector("#job-name").textContent === "Valve 12");
await settled(page);
const shapes = async () => (await desk.api(`/api/jobs/${(await desk.api("/api/jobs")).body.jobs[0].id}/area`)).body.shapes;
const [{ rings: [before] }] = await shapes();
await page.click("#tool-edit");
await page.waitForFunction(() => [...document.querySelectorAll("#draw-shape option")].some((o) => o.textContent.startsWith("Area 1")));
await page.selectOption("#draw-shape", "0");
await check("the area and its margin are drawn, the margin with fewer corners", async () => {
  await waitFor("the margin is drawn", async () => await drawn("drawn-margin") > 0, 60);
  const [area, margin] = [await drawn("drawn"), await drawn("drawn-margin")];
  want(area === many + 1 && margin > 20 && margin <= 4000, `${area} and ${margin} corners`);
});
await goTo(page, ring[0], 15.5);
await fluid(page, "a corner of 5,000 is dragged, all in view", drag, bench);
await page.locator("#draw button", { hasText: "Undo" }).click();
await goTo(page, ring[0], 18);
await fluid(page, "a corner of 5,000 is dragged, near", drag, bench);
await check("what was dragged can be saved, and the others keep their digits", async () => {
  await waitFor("it can be saved", savable, 60);
  await page.locator("#draw button.main").click();
  await page.locator("#draw").waitFor({ state: "hidden", timeout: 120_000 });
  const [{ rings: [now] }] = await shapes();
  const moved = now.filter((p, i) => p.some((v, k) => Math.abs(v - before[i][k]) > 1e-9)).length; // a file has nine decimals
  want(now.length === before.length && moved > 0 && moved < 3, `${moved} corners are others`)
  want(complaints.length === 0, complaints.join(" | "));
});
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
