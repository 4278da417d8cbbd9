// Jobs in the list, making several ready, places, and the two themes:  node test/desk/ready.mjs [--shots DIR]
import { mkdir, readFile, rename, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
const day = (n) => { const d = new Date(Date.now() + n * 86_400_000); return [d.getFullYear(), d.getMonth() + 1, d.getDate()].map((v) => String(v).padStart(2, "0")).join("-"); };
const made = [["Juniper Ct service", "40.5,-140.49", day(3)], ["Valve 12", "40.4986,-140.4968", day(1)], ["Old main", "40.51,-140.5", day(-2)], ["Larkwater lift station", "40.52,-140.5", ""]];
for (const [name, at, ends] of made) {
  const dir = join(jobs, name.replaceAll(" ", "-"));
  const { code, out } = await run(home, "new", dir, "--name", name, "--around", at, "--radius", "60ft", "--source", "practice");
  if (code !== 0) throw new Error(out);
  const file = join(dir, "job.toml");
  const text = await readFile(file, "utf8");
  await writeFile(file, text.replace("[[around]]", 'expected = ["water", "electric"]\n\n[[around]]') + (ends === "" ? "" : `\n[ticket]\nnumber = "8"\nvalid_until = ${ends}\n`));
}
const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, strangers, close } = await openDesk(desk);
const row = (name) => page.locator("#jobs .job", { hasText: name });
const shot = async (name) => shots && page.screenshot({ path: join(shots, `desk-${name}.png`) });

await check("what ends first stands first, then without a day, then what has ended", async () => {
  await row("Valve 12").waitFor();
  const names = await page.locator("#jobs .job b").allInnerTexts();
  want(names.join() === "Valve 12,Juniper Ct service,Larkwater lift station,Old main", names.join());
  want((await row("Valve 12").innerText()).includes("ticket ends tomorrow"), await row("Valve 12").innerText());
});
await check("what is recorded, and what would be asked, comes by itself", async () => {
  await row("Valve 12").getByText("to ask").waitFor({ timeout: 10_000 });
  const text = await row("Valve 12").innerText();
  want(/not packed/.test(text) && /sq ft|acres/.test(text) && /0 of 2 recorded/.test(text) && /about .* MB/.test(text), text);
});
await check("several are made ready, and are fit", async () => {
  await page.getByRole("button", { name: "Make ready…" }).click();
  const dialog = page.locator("dialog");
  await dialog.locator("label", { hasText: "Valve 12" }).getByText("tiles from practice").waitFor();
  want(await dialog.locator("input:checked").count() === 1, "what ends tomorrow is chosen at first");
  await dialog.locator("label", { hasText: "Juniper" }).click();
  await shot("ready");
  await dialog.getByRole("button", { name: "Make 2 jobs ready" }).click();
  for (const name of ["Valve 12", "Juniper Ct service"]) await row(name).locator("em", { hasText: /^fit$/ }).waitFor({ timeout: 60_000 });
  want(await page.locator(".line .bad").count() === 0, await page.locator(".line").innerText());
  want(!(await row("Old main").innerText()).includes("fit"), "a job that was not chosen was packed");
});
await check("a job that is edited by hand shows at once", async () => {
  const file = join(jobs, "Valve-12", "job.toml");
  await row("Valve 12").click();
  await writeFile(`${file}.new`, (await readFile(file, "utf8")).replace('margin = "50ft"', 'margin = "60ft"'));
  await rename(`${file}.new`, file); // whole at once, so that nothing half written is read and refused
  await page.waitForFunction(() => document.querySelector("#job-line").textContent.includes("margin 60 ft"), null, { timeout: 8000 });
  await row("Valve 12").locator("em", { hasText: "job changed" }).waitFor({ timeout: 10_000 });
});
await check("a place is added, and its jobs are listed; taken out, they are gone", async () => {
  const other = join(folder.dir, "other places");
  await mkdir(other);
  const { code, out } = await run(home, "new", join(other, "far"), "--name", "Far away", "--around", "40.6,-140.4", "--radius", "60ft", "--source", "practice");
  want(code === 0, out);
  await page.getByRole("button", { name: "Places…" }).click();
  await page.getByRole("button", { name: "Add a place" }).click();
  const picker = page.locator("dialog").last();
  await picker.locator("input").fill(folder.dir);
  await picker.locator("input").press("Enter");
  await picker.getByRole("button", { name: "other places" }).click();
  await shot("places");
  await picker.getByRole("button", { name: "Look here for jobs" }).click();
  await row("Far away").waitFor();
  want((await readFile(join(home, "config/groundsheet/places.txt"), "utf8")) === `${other}\n`, "the file of places");
  await page.locator("dialog").getByRole("button", { name: `Take out: ${other}` }).click();
  await row("Far away").waitFor({ state: "detached" });
  await page.keyboard.press("Escape");
});
await check("nothing is complained of, and nobody else is asked", async () => {
  want(complaints.length === 0, complaints.join(" | "));
  want(strangers.length === 0, strangers.join(" "));
});
await shot("day");
await page.evaluate(() => localStorage.setItem("groundsheet look", "night"));
await page.setViewportSize({ width: 1024, height: 768 });
await page.reload();
await page.waitForSelector("#jobs .job em.yes");
await shot("night-1024");
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
