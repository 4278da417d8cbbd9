// Work and keeping on the desk: packing with its progress, the verdict and its findings on the map, the
// brief page by page, serving on site, a copy read back, pruning as a proposal:  node test/desk/work.mjs [--shots DIR]
import { appendFile, cp, mkdir, readFile, writeFile } from "node:fs/promises";
import { createServer } from "node:net";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
const site = join(jobs, "valve");
const made = await run(home, "new", site, "--name", "Valve 12", "--around", "40.4986,-140.4968", "--radius", "80ft", "--source", "practice", "--zooms", "16,19");
if (made.code !== 0) throw new Error(made.out);
await writeFile(join(site, "water.geojson"), JSON.stringify({ type: "Feature", properties: {}, geometry: { type: "LineString", coordinates: [[-140.4972, 40.4986], [-140.4964, 40.4986]] } }));
await appendFile(join(site, "job.toml"), '\n[[overlay]]\nfile = "water.geojson"\nutility = "water"\n');
const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, strangers, close } = await openDesk(desk);
page.setDefaultTimeout(10_000);
const shot = async (name) => (shots ? page.screenshot({ path: join(shots, `work-${name}.png`) }) : undefined);
const dialog = page.locator("dialog[open]");

await check("Pack packs, and the verdict stands in the panel", async () => {
  await page.locator("#jobs .job").first().click();
  await page.locator("#pack").click();
  await page.locator("#panel-work .verdict.yes").waitFor({ timeout: 20_000 });
  await page.locator("#serve.main").waitFor();
  want(await page.locator("#pack.main").count() === 0, "what is packed is still to be packed");
  want(/fit · \d+ warning/.test(await page.locator("#index-work").innerText()), await page.locator("#index-work").innerText());
  want(/of \d+ tiles/.test(await page.locator("#panel-work .verdict").innerText()), "no count of tiles");
  want(await page.locator("#brief").isEnabled() && await page.locator("#serve").isEnabled(), "brief and serve are not offered");
});
/** How many places are marked on the map. */
const marked = () => page.evaluate(() => window.groundsheet.map.getLayers().getArray().filter((l) => l.get("name") === "highlight" && l.getZIndex() === 11).reduce((n, l) => n + l.getSource().getFeatures().length, 0));
await check("a finding that is of a place shows it on the map", async () => {
  const findings = page.locator("#panel-work .findings li");
  want(await findings.count() > 0, "no finding");
  const placed = page.locator("#panel-work button.finding").first();
  await placed.click();
  want(await marked() === 1, `${await marked()} places are marked`);
  await placed.click();
  want(await marked() === 0, "a second press leaves it marked");
  await placed.click();
  await page.keyboard.press("Escape");
  want(await marked() === 0, "Escape leaves it marked");
  await placed.click();
  await shot("finding");
  await page.locator("#tool-edit").click();
  await page.locator("#draw button", { hasText: "Close" }).click();
  want(await marked() === 0, "a tool leaves it marked");
});
await check("a job that changed is called fit again only when that is proved, and what is pressed meanwhile stays", async () => {
  await page.locator("#panel-takes .choices label").first().waitFor();
  const shown = ["#panel-work button.finding", "#panel-recorded .one", "#panel-takes .choices label", "#keep-until"];
  const all = await page.evaluate((s) => s.flatMap((one) => [...document.querySelectorAll(one)]).map((e) => e.setAttribute("data-seen", "")).length, shown);
  let answer;
  const held = new Promise((done) => { answer = done; });
  await page.route("**/findings", async (route) => {
    await held;
    await route.continue();
  });
  await appendFile(join(site, "job.toml"), "# looked at again\n");
  await page.locator("#panel-work .verdict:not(.yes)").waitFor();
  want(!/fit/.test(`${await page.locator("#index-work").innerText()} ${await page.locator("#panel-work .verdict").innerText()}`), "it is called fit while it is checked");
  want(await page.locator("#serve.main").count() === 0, "serving is what comes next");
  const placed = page.locator("#panel-work button.finding").first();
  await placed.hover();
  await page.mouse.down();
  answer();
  await page.locator("#panel-work .verdict.yes").waitFor();
  await page.mouse.up();
  want(await marked() === 1, "the press was lost");
  await placed.click();
  await page.unroute("**/findings");
  const stayed = await page.locator("[data-seen]").count();
  want(all > 4 && stayed === all, `${stayed} of ${all} stayed`);
});
await check("the brief is read page by page, with the keyboard too", async () => {
  await page.locator("#brief").click();
  await dialog.locator(".sheet h1").waitFor();
  want(/^Page 1 of \d/.test(await dialog.locator(".where").innerText()), "no first page");
  await page.keyboard.press("ArrowRight");
  const picture = dialog.locator(".sheet.map img").first();
  await picture.waitFor();
  want(await picture.evaluate((i) => i.decode().then(() => i.naturalWidth > 0)), "the map of the brief is no picture");
  want(await dialog.locator("script, iframe, style").count() === 0, "more than a brief is made of");
  await shot("brief");
  const saving = page.waitForEvent("download");
  await dialog.getByRole("button", { name: "Save as PDF" }).click();
  const file = await (await saving).path();
  want((await readFile(file)).subarray(0, 5).toString() === "%PDF-", "no PDF");
  await page.keyboard.press("Escape");
});
await check("serving shows address, code and QR code, and stops", async () => {
  await page.locator("#serve").click();
  await dialog.locator(".qr").waitFor();
  const url = await dialog.locator(".addresses b").first().innerText();
  want(/^http:\/\/[\d.]+:\d+\/$/.test(url), url);
  want((await dialog.locator(".code b").innerText()).replace(/\D/g, "").length >= 12, "no code");
  const answer = await fetch(new URL("join", url));
  want(answer.ok, `the join page answers ${answer.status}`);
  await shot("serve");
  await page.keyboard.press("Escape");
  await page.locator('#serve[aria-pressed="true"]').click();
  await dialog.locator(".qr").waitFor();
  await dialog.getByRole("button", { name: "Stop serving" }).click();
  await page.locator('#serve[aria-pressed="false"]').waitFor();
  want(await fetch(url).then(() => false, () => true), "it is still served");
});
await check("a port that something else has is told; another job is served only after a question", async () => {
  const other = join(jobs, "valve-13");
  await cp(site, other, { recursive: true });
  await writeFile(join(other, "job.toml"), (await readFile(join(other, "job.toml"), "utf8")).replace("Valve 12", "Valve 13"));
  const holder = createServer();
  await new Promise((done) => holder.on("error", done).listen(8460, "0.0.0.0", done)); // or somebody has it already
  try {
    await page.locator("#serve").click();
    await dialog.locator(".qr").waitFor();
    const url = await dialog.locator(".addresses b").first().innerText();
    want(new URL(url).port !== "8460" && (await dialog.innerText()).includes("Port 8460 is taken on this computer"), await dialog.innerText());
    want((await fetch(new URL("join", url))).ok, "the join page does not answer");
    await shot("serve-port");
    await page.keyboard.press("Escape");
    await page.locator("#jobs .job", { hasText: "Valve 13" }).click();
    await page.locator("#panel-work .verdict.no").waitFor(); // its pack has the other's name
    await page.locator("#serve").click();
    await dialog.getByText("Valve 12 is being served").waitFor();
    await shot("serve-other");
    await dialog.getByRole("button", { name: "Go on serving it" }).click();
    want((await fetch(new URL("join", url))).ok, "it is served no longer");
    await page.locator("#serve").click();
    await dialog.getByRole("button", { name: "Serve this one instead" }).click();
    await dialog.locator(".qr").waitFor();
    want(await fetch(new URL("join", url)).then(() => false, () => true), "the first is served still");
    await dialog.getByRole("button", { name: "Stop serving" }).click();
    await page.locator('#serve[aria-pressed="false"]').waitFor();
  } finally {
    await new Promise((done) => holder.close(done));
  }
  await page.locator("#jobs .job", { hasText: "Valve 12" }).click();
  await page.locator("#panel-work .verdict.yes").waitFor();
});
await check("a copy goes to a chosen folder and is told to be read back", async () => {
  const stick = join(folder.dir, "home", "stick");
  await mkdir(stick, { recursive: true });
  await page.locator("#copy").click();
  await dialog.getByRole("button", { name: "Another folder…" }).click();
  const picker = dialog.last();
  await picker.locator("input.path").fill(stick);
  await picker.locator("input.path").press("Enter");
  await page.waitForFunction((to) => [...document.querySelectorAll("dialog[open] input.path")].at(-1)?.value === to, stick);
  await picker.getByRole("button", { name: "Copy here" }).click();
  await page.locator("dialog[open] .copying .yes").waitFor();
  want(/read back and the same/.test(await page.locator("dialog[open] .copying").innerText()), "not told");
  const [a, b] = await Promise.all([join(stick, "valve-12.mbtiles"), join(site, "out", "valve-12.mbtiles")].map((p) => readFile(p)));
  want(a.equals(b), "the copy is another file");
  await page.keyboard.press("Escape");
});
await check("closed and kept until a day, nothing is proposed; no longer kept, exactly the proposal goes", async () => {
  await page.locator("#close-job").click();
  await page.locator("#reopen-job").waitFor();
  await page.locator("#keep-until").click();
  await dialog.locator('input[type="date"]').fill(new Date(Date.now() + 20 * 86_400_000).toISOString().slice(0, 10));
  await dialog.locator('input[type="text"]').fill("claim 7");
  await dialog.getByRole("button", { name: "Keep it" }).click();
  await page.locator("#panel-keeping .kept .yes").waitFor();
  await page.locator("#store").click();
  await dialog.locator("table").waitFor();
  await page.locator("#prune-propose").click();
  await dialog.locator(".proposal").getByText("claim 7").waitFor();
  want(await page.locator("#prune-apply").count() === 0, "it may be removed");
  await shot("store");
  await page.keyboard.press("Escape");
  await page.locator("#keep-until").click();
  await dialog.getByRole("button", { name: "No longer" }).click();
  await dialog.waitFor({ state: "detached" });
  await page.locator("#store").click();
  await page.locator("#prune-propose").click();
  await page.locator("#prune-apply").click();
  await dialog.locator(".proposal .yes").waitFor();
  want(/^Removed \d+ tiles/.test(await dialog.locator(".proposal").innerText()), await dialog.locator(".proposal").innerText());
  await page.keyboard.press("Escape");
  await page.locator("#reopen-job").click();
  await page.locator("#close-job").waitFor();
});
await check("a reload shows the work again; a narrow window too", async () => {
  await page.reload();
  await page.locator("#panel-work .verdict.yes").waitFor();
  await page.setViewportSize({ width: 1024, height: 768 });
  await shot("narrow");
});
await check("nothing is complained of, and nobody else is asked", async () => {
  want(complaints.length === 0, complaints.join(" | "));
  want(strangers.length === 0, strangers.join(" "));
});
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
