// The desk opens, lists jobs and shows one:  node test/desk/first.mjs [--shots DIR]
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
for (const [name, at] of [["Valve 12", "40.4986,-140.4968"], ["Juniper Ct service", "40.5,-140.49"]]) {
  const { code, out } = await run(home, "new", join(jobs, name.replaceAll(" ", "-")), "--name", name, "--around", at, "--radius", "80ft", "--source", "practice");
  if (code !== 0) throw new Error(out);
}
const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, strangers, close } = await openDesk(desk);
await check("the secret leaves the address", async () => {
  want(!page.url().includes("#"), page.url());
});
await check("while no job is chosen, all of them are pins on the map, and a press on one chooses it", async () => {
  const pins = () => page.evaluate(() => {
    const { map } = window.groundsheet;
    const layer = map.getLayers().getArray().find((l) => l.get("name") === "pins");
    const { left, top } = document.querySelector("#map").getBoundingClientRect();
    return layer.getVisible() ? layer.getSource().getFeatures().map((f) => {
      const [x, y] = map.getPixelFromCoordinate(f.getGeometry().getCoordinates()) ?? [0, 0];
      return { name: f.get("name"), x: left + x, y: top + y, seen: document.elementFromPoint(left + x, top + y)?.tagName === "CANVAS" };
    }) : [];
  });
  for (let i = 0; i < 100 && (await pins()).length < 2; i++) await page.waitForTimeout(100);
  await page.waitForTimeout(300);
  if (shots) await page.screenshot({ path: join(shots, "desk-pins.png") });
  const all = await pins();
  want(all.map((p) => p.name).sort().join() === "Juniper Ct service,Valve 12" && all.every((p) => p.seen), JSON.stringify(all));
  const one = all.find((p) => p.name === "Juniper Ct service");
  await page.mouse.click(one.x, one.y);
  await page.waitForFunction(() => document.querySelector("#job-name").textContent === "Juniper Ct service");
  want((await pins()).length === 0, "the pins stay over a job");
});
await check("the jobs are listed, and one is shown on the map", async () => {
  const rows = page.locator("#jobs .job");
  await rows.nth(1).waitFor();
  want(await rows.count() === 2, `${await rows.count()} rows`);
  await rows.filter({ hasText: "Valve 12" }).click();
  await page.waitForFunction(() => document.querySelector("#job-name").textContent === "Valve 12");
  const zoom = await page.evaluate(() => window.groundsheet.map.getView().getZoom());
  want(zoom > 17, `zoom ${zoom}`);
});
await check("a reload keeps the secret of the tab and the chosen job", async () => {
  await page.reload();
  await page.waitForFunction(() => document.querySelector("#job-name").textContent === "Valve 12");
});
await check("nothing is complained of, and nobody else is asked", async () => {
  want(complaints.length === 0, complaints.join(" | "));
  want(strangers.length === 0, strangers.join(" "));
});
if (shots) await page.screenshot({ path: join(shots, "desk-first.png") });
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
