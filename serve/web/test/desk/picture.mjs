// The picture under the drawing, what the phone will show, what it takes:  node test/desk/picture.mjs [--shots DIR]
import { mkdir, readFile, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
const jobFile = join(jobs, "valve", "job.toml");
const made = await run(home, "new", join(jobs, "valve"), "--name", "Valve 12", "--around", "40.4986,-140.4968", "--radius", "80ft", "--source", "practice", "--zooms", "14,19");
if (made.code !== 0) throw new Error(made.out);
await mkdir(join(home, "config", "groundsheet"), { recursive: true });
await writeFile(join(home, "config", "groundsheet", "sources.toml"), '[bare]\nkind = "xyz"\nurl = "https://tiles.county.example/{z}/{x}/{y}.jpg"\nzooms = [8, 21]\n');
const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, strangers, close } = await openDesk(desk);
page.setDefaultTimeout(8000);
const panel = page.locator("#panel-takes");
const under = page.locator("#panel-source");
const shot = async (name) => { if (shots) await page.screenshot({ path: join(shots, `desk-${name}.png`) }); };
/** The share of pixels of a part of the page that are no plain paper. */
const colors = async (selector) => {
  const png = (await page.locator(selector).screenshot()).toString("base64");
  return page.evaluate(async (data) => {
    const image = new Image();
    image.src = `data:image/png;base64,${data}`;
    await image.decode();
    const c = document.createElement("canvas");
    [c.width, c.height] = [image.width, image.height];
    const pen = c.getContext("2d");
    pen.drawImage(image, 0, 0);
    const bytes = pen.getImageData(0, 0, c.width, c.height).data;
    const seen = new Set();
    for (let i = 0; i < bytes.length; i += 4 * 97) seen.add(`${bytes[i] >> 3} ${bytes[i + 1] >> 3} ${bytes[i + 2] >> 3}`);
    return seen.size;
  }, png);
};

await check("the plan of the chosen job says what it takes, as the command line does", async () => {
  await page.locator("#jobs .job").click();
  await panel.locator("tbody tr").first().waitFor();
  const rows = await panel.locator("tbody tr").count();
  const { out } = await run(home, "plan", join(jobs, "valve"));
  const total = /total .*/.exec(out)[0];
  want(rows === 5 && /^14–15/.test(await panel.locator("tbody tr").first().innerText()), `${rows} rows`);
  want((await panel.locator(".sum").textContent()).includes(total.split(",")[0].replace("total ", "")), `${total} | ${await panel.locator(".sum").textContent()}`);
});

await check("the picture comes through the desk, and nowhere else from", async () => {
  await page.waitForFunction(() => document.querySelector("#panel-source select").value === "practice");
  await page.waitForTimeout(2500);
  want(await colors("#map") > 150, `${await colors("#map")} colors on the map`);
  want((await page.locator("#credit").textContent()).includes("not a real place"), await page.locator("#credit").textContent());
  want(strangers.length === 0, strangers.join(" "));
  await shot("picture");
});

await check("what the phone will show: a pixel of it, the picture's own, when it was taken", async () => {
  const phone = page.locator("#phone");
  const text = () => phone.innerText();
  want(/zoom 19/.test(await text()) && /1 pixel is/.test(await text()) && /taken: invented/.test(await text()), await text());
  await phone.getByRole("button", { name: "3×" }).or(phone.getByRole("button", { name: "A phone with 3" })).first().click();
  await phone.getByRole("button", { name: "One zoom deeper" }).click();
  await phone.getByRole("button", { name: "One zoom deeper" }).click();
  want(/zoom 21/.test(await text()) && /magnified/.test(await text()), await text());
  await page.waitForTimeout(800);
  want(await colors("#phone .screen") > 10, `${await colors("#phone .screen")} colors`);
});

await check("a choice is written into job.toml, and the plan follows", async () => {
  const before = await readFile(jobFile, "utf8");
  const deeper = panel.locator(".choices label").filter({ hasText: "down to zoom" });
  await deeper.waitFor();
  want(await panel.locator(".choices label").first().innerText() === await deeper.innerText(), "the choice that keeps a reading's sharpness leads");
  await deeper.locator("input").check();
  await page.waitForFunction(() => document.querySelector("#panel-takes tbody tr:last-child td").textContent === "22");
  const after = await readFile(jobFile, "utf8");
  want(after !== before && after.split("\n").filter((l) => !l.includes("zooms")).join("\n") === before.split("\n").filter((l) => !l.includes("zooms")).join("\n"), after);
});

await check("fit_in asks for choices that fit", async () => {
  await page.fill("#fit-in", "400kB");
  await page.keyboard.press("Enter");
  await panel.getByText("More than 400 kB").waitFor();
  want(/fit_in = "400kB"/.test(await readFile(jobFile, "utf8")), await readFile(jobFile, "utf8"));
  await shot("choices");
});

await check("a source without terms shows nothing but why", async () => {
  await under.locator("select").selectOption("bare");
  await under.locator(".why").waitFor();
  want(/states no terms/.test(await under.innerText()), await under.innerText());
  want(await page.locator("#phone").isHidden() && (await page.locator("#credit").textContent()) === "", "the phone's window is there");
  await page.waitForTimeout(300);
  want(await colors("#map") < 100, `${await colors("#map")} colors`);
  await under.locator("select").selectOption("practice");
});

await check("a source is added with the person's answers, and with all of them", async () => {
  const { body: { sources } } = await desk.api("/api/sources");
  want(sources.length === 2, JSON.stringify(sources));
  const file = join(folder.dir, "ortho", "16", "7191");
  await mkdir(file, { recursive: true });
  const town = await fetch(`${desk.origin}/api/picture/practice/16/7191/24691`, { headers: { "Groundsheet-Desk": desk.secret } });
  await writeFile(join(file, "24691.jpg"), Buffer.from(await town.arrayBuffer()));
  await under.getByRole("button", { name: "Add a source" }).click();
  const dialog = page.locator("dialog");
  await dialog.getByLabel("Address or file").fill(join(folder.dir, "ortho"));
  await page.keyboard.press("Enter");
  await dialog.locator(".offers button").first().click();
  await dialog.locator(".offers img").first().waitFor();
  await shot("layers");
  await dialog.getByRole("button", { name: "Next: its terms" }).click();
  want(await dialog.locator("input:checked").count() === 0, "an answer is filled in");
  await dialog.getByLabel("Name of the source").fill("ortho");
  await dialog.getByRole("button", { name: "Add the source" }).click();
  await dialog.getByText("this question has no answer yet").waitFor();
  await dialog.getByLabel("yes, the published terms").check();
  await dialog.getByLabel("Where are the terms published?").fill("https://county.example/terms");
  for (const nothing of await dialog.getByLabel("the terms state nothing").all()) if (await nothing.isVisible()) await nothing.check();
  await shot("terms");
  await dialog.getByRole("button", { name: "Add the source" }).click();
  await dialog.waitFor({ state: "detached" });
  const written = await readFile(join(home, "config", "groundsheet", "sources.toml"), "utf8");
  want(/\[ortho\.terms\]\noffline = "allowed"\nreference = "https:\/\/county.example\/terms"\n$/.test(written), written);
  await page.waitForFunction(() => document.querySelector("#panel-source select").value === "ortho");
});

await check("nothing is complained of, and nobody else is asked", async () => {
  const others = complaints.filter((c) => !/400 .*\/api\/sources$/.test(c)); // the answers that were left out
  want(others.length === 0, others.join(" | "));
  want(strangers.length === 0, strangers.join(" "));
});
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
