// The area is drawn with the pointer and with keys, taken back, saved, and read back by the command line:
//   node test/desk/area.mjs [--shots DIR] [--only WORD]
import { readFile, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";
import { check, goTo, settled, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots, only } } = parseArgs({ options: { shots: { type: "string" }, only: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
const site = join(jobs, "site");
const made = await run(home, "new", site, "--name", "Valve 12", "--around", "40.4986,-140.4968", "--radius", "80ft", "--source", "practice");
if (made.code !== 0) throw new Error(made.out);
const handWritten = (await readFile(join(site, "job.toml"), "utf8")).replace("[[around]]", "# the valve\n[[around]]   # told by phone");
await writeFile(join(site, "job.toml"), handWritten);
const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, strangers, close } = await openDesk(desk);
page.on("response", async (r) => r.status() >= 400 && refused.push(`${r.url()} ${r.request().postData()?.slice(0, 300)} ${await r.text()}`));
const refused = [];
const test = (name, f) => (only === undefined || name.includes(only) ? check(name, f) : undefined);

const text = () => readFile(join(site, "job.toml"), "utf8");
const drawn = () => page.locator("#draw .live").innerText();
const shapes = () => page.locator("#draw-shape option").allInnerTexts();
/** Pixels of the page from the middle of the map. */
async function middle() {
  const box = await page.locator("#map").boundingBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
}
async function clickAt(dx, dy) {
  const [x, y] = await middle();
  await page.mouse.move(x + dx - 3, y + dy, { steps: 2 });
  await page.mouse.move(x + dx, y + dy);
  await page.mouse.click(x + dx, y + dy);
  await page.waitForTimeout(280); // two clicks are no double click
}
async function waitFor(what, f) {
  for (let i = 0; i < 100; i++) {
    if (await f()) return;
    await page.waitForTimeout(50);
  }
  throw new Error(`it does not come to be that ${what}`);
}
const saved = async () => {
  await page.locator("#draw button.main").click();
  await page.locator("#draw").waitFor({ state: "hidden" });
};
const axe = await readFile(join(dirname(fileURLToPath(import.meta.url)), "../../node_modules/axe-core/axe.min.js"), "utf8");
/** What keeps a part of the page from being used by everybody. */
async function usable(part) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate((p) => window.axe.run(p, { resultTypes: ["violations"] }), part);
  want(violations.length === 0, violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120)).join(" ")}`).join(" | "));
}
const count = (n) => waitFor(`there are ${n} shapes`, async () => (await shapes()).length === n + 1);
const choose = async (name) => {
  await page.locator("#jobs .job", { hasText: name }).first().click();
  await page.waitForFunction((n) => document.querySelector("#job-name").textContent === n, name);
  await settled(page);
};

await choose("Valve 12");
await test("shapes are drawn with the pointer, and taken back", async () => {
  await page.click("#tool-polygon");
  await count(1);
  await goTo(page, [-140.4968, 40.4986], 19);
  for (const [x, y] of [[180, -180], [260, -180], [260, -100], [180, -180]]) await clickAt(x, y);
  await count(2);
  want(/sq ft, edge .* 3 corners/.test(await drawn()), await drawn());
  await page.click("#tool-route");
  await page.fill("#draw-width", "20ft");
  for (const [x, y] of [[-30, 150], [40, 160], [100, 150], [100, 150]]) await clickAt(x, y);
  await count(3);
  want(/ft along the ground, 3 corners/.test(await drawn()), await drawn());
  await page.click("#tool-circle");
  for (const [x, y] of [[240, 20], [280, 20]]) await clickAt(x, y);
  await count(4);
  want(/Radius .* ft, .* sq ft/.test(await drawn()), await drawn());
  await page.locator("#draw button", { hasText: "Undo" }).click();
  await page.locator("#draw button", { hasText: "Undo" }).click();
  await count(2);
  await page.locator("#draw button", { hasText: "Redo" }).click();
  await count(3);
  if (shots) await page.screenshot({ path: join(shots, "desk-area.png") });
});
await test("what was drawn is saved where a person would write it", async () => {
  await saved();
  const now = await text();
  want(now.includes('area = ["area.geojson"]') && now.includes('[[along]]\nfile = "along.geojson"\nwidth = "20ft"'), now);
  want(now.includes("# the valve\n[[around]]   # told by phone"), now);
  const plan = await run(home, "plan", site);
  want(plan.code === 0 && plan.out.includes("Valve 12"), plan.out);
});
await test("with keys alone: a polygon, a route and a circle", async () => {
  await page.locator("#tool-polygon").focus();
  await page.keyboard.press("Enter");
  await count(3);
  const keys = async (...all) => {
    for (const k of all) {
      const [key, n] = k.split("*");
      for (let i = 0; i < Number(n ?? 1); i++) await page.keyboard.press(key);
    }
  };
  await keys("ArrowLeft*14", "ArrowUp*10", "Enter", "ArrowRight*4", "Enter", "ArrowDown*4", "Shift+ArrowDown", "Enter", "ArrowLeft*2", "Enter", "Backspace", "Control+Enter");
  await count(4);
  want(/3 corners/.test(await drawn()), await drawn());
  await page.locator("#tool-route").focus();
  await keys("Enter", "ArrowDown*8", "Enter", "ArrowRight*5", "Enter", "Enter");
  await count(5);
  want(/2 corners/.test(await drawn()), await drawn());
  await page.locator("#tool-circle").focus();
  await keys("Enter", "ArrowLeft*6", "Enter", "ArrowLeft*2", "Enter");
  await count(6);
  await keys("Control+z");
  await count(5);
  await keys("Control+Shift+Z");
  await count(6);
  await saved();
  const { body } = await desk.api(`/api/jobs/${(await desk.api("/api/jobs")).body.jobs[0].id}/area`);
  want(body.shapes.length === 6, JSON.stringify(body.shapes));
});
await test("a corner is dragged; the others keep their digits", async () => {
  await page.click("#tool-edit");
  await count(6);
  const id = (await desk.api("/api/jobs")).body.jobs[0].id;
  const before = (await desk.api(`/api/jobs/${id}/area`)).body.shapes.find((s) => s.kind === "polygon");
  const first = (await shapes()).findIndex((t) => t.startsWith("Area 1"));
  await page.selectOption("#draw-shape", String(first - 1));
  const [x, y] = await page.evaluate((at) => {
    const [lon, lat] = at;
    return window.groundsheet.map.getPixelFromCoordinate([(lon * Math.PI / 180) * 6378137, 6378137 * Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360))]);
  }, before.rings[0][1]);
  const box = await page.locator("#map").boundingBox();
  await page.mouse.move(box.x + x, box.y + y);
  await page.mouse.down();
  await page.mouse.move(box.x + x + 30, box.y + y - 20, { steps: 5 });
  await page.mouse.up();
  await waitFor("it can be saved", async () => page.locator("#draw button.main").isEnabled());
  await saved();
  const after = (await desk.api(`/api/jobs/${id}/area`)).body.shapes.find((s) => s.kind === "polygon");
  want(JSON.stringify(after.rings[0][0]) === JSON.stringify(before.rings[0][0]) && JSON.stringify(after.rings[0][1]) !== JSON.stringify(before.rings[0][1]), JSON.stringify([before, after]));
});
await test("what is drawn lies under the records, its corners over them, and the whole of it comes into view", async () => {
  await goTo(page, [-140.49, 40.49], 21);
  await page.click("#tool-edit");
  await count(6);
  await page.selectOption("#draw-shape", "0");
  const [below, above, inView] = await page.evaluate(() => {
    const { map } = window.groundsheet;
    const at = (name) => map.getLayers().getArray().find((l) => l.get("name") === name);
    const [view, all] = [map.getView().calculateExtent(), at("drawn").getSource().getExtent()];
    return [at("drawn").getZIndex(), at("corners").getZIndex(), view[0] <= all[0] && view[1] <= all[1] && view[2] >= all[2] && view[3] >= all[3]];
  });
  want(below < 11.5 && above > 31 && inView, `${below}, ${above}, ${inView}`);
  await page.locator("#draw button", { hasText: "Close" }).click();
});
await test("the plan's numbers change while a corner is dragged, before it is let go", async () => {
  const id = (await desk.api("/api/jobs")).body.jobs[0].id;
  const all = (await desk.api(`/api/jobs/${id}/area`)).body.shapes;
  await page.click("#tool-edit");
  await count(6);
  const at = all.findIndex((s) => s.kind === "polygon");
  await page.selectOption("#draw-shape", String(at));
  const corner = all[at].rings[0][1];
  await goTo(page, corner, 19);
  const [x, y] = await middle();
  const plan = () => page.locator("#panel-takes .sum b").innerText();
  await page.locator("#panel-takes .sum b").waitFor();
  const told = new Set([await plan()]);
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 1; i <= 100 && told.size < 3; i++) {
    await page.mouse.move(x + Math.min(2 * i, 120) + (i % 2), y - Math.min(2 * i, 120));
    await page.waitForTimeout(120);
    told.add(await plan());
  }
  want(told.size > 2 && await page.locator("#draw button", { hasText: "Undo" }).isDisabled(), `told: ${[...told].join(" | ")}`);
  await page.mouse.up();
  await page.locator("#draw button", { hasText: "Undo" }).click();
  await page.locator("#draw button", { hasText: "Close" }).click();
});
await test("a corner is taken up and put down with keys; a circle is dragged by its edge", async () => {
  const id = (await desk.api("/api/jobs")).body.jobs[0].id;
  const before = (await desk.api(`/api/jobs/${id}/area`)).body.shapes;
  const [poly, circle] = [before.findIndex((s) => s.kind === "polygon"), before.findIndex((s) => s.kind === "circle")];
  await page.click("#tool-edit");
  await count(6);
  await page.selectOption("#draw-shape", String(poly));
  await goTo(page, before[poly].rings[0][2], 19);
  await page.focus("#map");
  for (const k of ["Shift+ArrowLeft", "Enter", "ArrowDown", "ArrowDown", "Enter"]) await page.keyboard.press(k);
  await page.selectOption("#draw-shape", String(circle));
  await goTo(page, before[circle].center, 19);
  const handle = await page.evaluate(() => {
    const { map } = window.groundsheet;
    const layer = map.getLayers().getArray().find((l) => l.get("name") === "handles");
    return map.getPixelFromCoordinate(layer.getSource().getFeatures().find((f) => f.get("handle") === "rim").getGeometry().getCoordinates());
  });
  const box = await page.locator("#map").boundingBox();
  await page.mouse.move(box.x + handle[0] - 2, box.y + handle[1]);
  await page.mouse.move(box.x + handle[0], box.y + handle[1]);
  await page.mouse.down();
  await page.mouse.move(box.x + handle[0] - 40, box.y + handle[1], { steps: 5 });
  await page.mouse.up();
  await page.waitForTimeout(300);
  await saved();
  const after = (await desk.api(`/api/jobs/${id}/area`)).body.shapes;
  want(after[poly].rings[0][2][1] < before[poly].rings[0][2][1] && String(after[poly].rings[0][0]) === String(before[poly].rings[0][0]), JSON.stringify(after[poly]));
  want(parseFloat(after[circle].radius) < parseFloat(before[circle].radius) && String(after[circle].center) === String(before[circle].center), JSON.stringify(after[circle]));
});
await test("corners snap to the lines of a dropped file", async () => {
  await page.click("#tool-edit");
  await count(6);
  await goTo(page, [-140.4968, 40.4986], 19);
  const line = [[-140.4969, 40.4988], [-140.4966, 40.4988]];
  await page.setInputFiles("#draw-file", { name: "curb.kml", mimeType: "application/xml", buffer: Buffer.from(`<kml><Document><Placemark><LineString><coordinates>${line.map((p) => p.join(",")).join(" ")}</coordinates></LineString></Placemark></Document></kml>`) });
  await page.locator("dialog button", { hasText: "Only to snap to" }).click();
  await goTo(page, [-140.4968, 40.4988], 19);
  await page.click("#tool-polygon");
  const at = await page.evaluate((all) => all.map(([lon, lat]) => window.groundsheet.map.getPixelFromCoordinate([(lon * Math.PI / 180) * 6378137, 6378137 * Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360))])), line);
  const [x, y] = await middle();
  const box = await page.locator("#map").boundingBox();
  for (const p of [...at, [x - box.x, y - box.y - 120], at[0]]) await clickAt(box.x + p[0] - x + 5, box.y + p[1] - y + 4);
  await count(7);
  await saved();
  const id = (await desk.api("/api/jobs")).body.jobs[0].id;
  const { shapes: all } = (await desk.api(`/api/jobs/${id}/area`)).body;
  want(all.some((s) => s.kind === "polygon" && String(s.rings[0][0]) === String(line[0]) && String(s.rings[0][1]) === String(line[1])), JSON.stringify(all));
});
await test("what changes elsewhere meanwhile is not lost, nor what was drawn", async () => {
  await page.click("#tool-edit");
  await count(7);
  await page.selectOption("#draw-shape", "0");
  await page.locator("#draw button", { hasText: "Delete shape" }).click();
  await count(6);
  await writeFile(join(site, "job.toml"), (await text()).replace(/number = .*/, 'number = "24-117" # by hand'));
  await saved();
  const now = await text();
  want(now.includes('number = "24-117" # by hand') && (now.match(/\[\[around\]\]|area = /g) ?? []).length > 0, now);
});
await test("an outline that crosses itself is told with its place, and cannot be saved", async () => {
  await page.click("#tool-polygon");
  for (const [x, y] of [[-60, -60], [60, 60], [60, -60], [-60, 60], [-60, -60]]) await clickAt(x, y);
  await page.locator("#draw .odd .no").waitFor();
  want((await page.locator("#draw .odd").innerText()).includes("crosses itself"), await page.locator("#draw .odd").innerText());
  want(await page.locator("#draw button.main").isDisabled(), "it can be saved");
  await usable("#draw");
  await usable("#tools");
  if (shots) await page.screenshot({ path: join(shots, "desk-area-crossing.png") });
  await page.locator("#draw button", { hasText: "Undo" }).click();
  await page.locator("#draw .odd .no").waitFor({ state: "detached" });
  await page.locator("#draw button", { hasText: "Discard" }).or(page.locator("#draw button", { hasText: "Close" })).last().click();
});
await test("facts are set by a form, with what is wrong beside it", async () => {
  const before = await text();
  await page.click("#open-facts");
  await page.fill("#fact-margin", "75");
  await page.locator("#fact-margin-bad", { hasText: "75ft" }).waitFor();
  await usable("dialog");
  if (shots) await page.screenshot({ path: join(shots, "desk-facts.png") });
  await page.fill("#fact-margin", "75ft");
  await page.fill("#fact-ticket-number", "A1");
  await page.fill("#fact-ticket-valid_until", "2026-12-12");
  await waitFor("it can be saved", async () => page.locator("dialog .foot button.main").isEnabled());
  await page.locator("dialog .foot button.main").click();
  await page.locator("dialog").waitFor({ state: "detached" });
  const now = await text();
  want(now.startsWith(before.slice(0, before.indexOf("margin")) + 'margin = "75ft"'), now);
  want(now.includes('[ticket]\nnumber = "A1"\nvalid_until = 2026-12-12'), now);
});
await test("a new job of a dropped file and a typed place", async () => {
  await page.click("#new-job");
  await page.locator("#draw").waitFor();
  await page.setInputFiles("#draw-file", { name: "pit.geojson", mimeType: "application/json", buffer: Buffer.from('{"type":"Polygon","coordinates":[[[-140.5,40.5],[-140.499,40.5],[-140.499,40.501],[-140.5,40.5]]]}') });
  await page.locator("dialog button", { hasText: "The dig area" }).click();
  await count(1);
  await page.click("#tool-circle");
  await page.fill("#draw-place", "40.4986, -140.4968");
  await page.keyboard.press("Enter");
  await page.fill("#draw-place", "40 29 54.96 N, 140 29 46 W");
  await page.keyboard.press("Enter");
  await count(2);
  await page.locator("#draw button.main").click();
  await page.fill("#new-name", "Elm St 12");
  await usable("dialog");
  if (shots) await page.screenshot({ path: join(shots, "desk-new.png") });
  await page.locator("dialog .foot button.main").click();
  await page.waitForFunction(() => document.querySelector("#job-name").textContent === "Elm St 12");
  const plan = await run(home, "plan", join(jobs, "elm-st-12"));
  want(plan.code === 0 && plan.out.includes("Elm St 12"), plan.out);
});
await test("what a dropped drawing does not say is asked: its layer, then its system", async () => {
  const outline = (layer, east) => `0\nLWPOLYLINE\n8\n${layer}\n90\n4\n70\n1\n` +
    [[0, 0], [30, 0], [30, 20], [0, 20]].map(([x, y]) => `10\n${542_600 + east + x}\n20\n${4_483_200 + y}\n`).join("");
  const dxf = { name: "pit.dxf", mimeType: "image/vnd.dxf", buffer: Buffer.from(`0\nSECTION\n2\nENTITIES\n${outline("PIT", 0)}${outline("FRAME", 100)}0\nENDSEC\n0\nEOF\n`) };
  const dialog = page.locator("dialog[open]");
  const read = dialog.locator(".foot button.main");
  await choose("Valve 12");
  await page.click("#tool-edit");
  await goTo(page, [-140.4968, 40.4986], 19);
  const before = (await shapes()).length - 1;
  await page.setInputFiles("#draw-file", dxf);
  await dialog.getByText("The file has 2 layers").waitFor();
  want(await read.isDisabled(), "nothing is chosen, and it could be read");
  await usable("dialog");
  await page.keyboard.press("Escape"); // it is left
  want((await shapes()).length - 1 === before, "a file that was left is drawn");
  await page.setInputFiles("#draw-file", dxf);
  await dialog.locator("#how-pick").selectOption("PIT");
  await read.click();
  await dialog.getByText("does not say which coordinate system").waitFor();
  const offered = await dialog.locator("#how-pick option").allInnerTexts();
  want(offered.some((o) => o.includes("32607")) && !offered.some((o) => o.includes("32613")), offered.join(" | "));
  if (shots) await page.screenshot({ path: join(shots, "desk-how.png") });
  await usable("dialog");
  await dialog.locator("#how-typed").fill("32607");
  await read.click();
  await dialog.locator("button", { hasText: "The dig area" }).click();
  await count(before + 1);
  await saved();
  want(/\[\[within\]\]\nfile = "[a-z]+\.dxf"\n(epsg = 32607\nlayer = "PIT"|layer = "PIT"\nepsg = 32607)/.test(await text()), await text());
});
await test("nothing is complained of, and nobody else is asked", async () => {
  const meant = complaints.filter((c) => !/409 .*\/area$/.test(c)); // the change made elsewhere
  want(meant.length === 0, meant.join(" | ") + refused.join(" | "));
  want(strangers.length === 0, strangers.join(" "));
});
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
