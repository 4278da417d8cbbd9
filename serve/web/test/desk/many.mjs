// 2,000 jobs in the list: how soon they are there, and the longest piece of work while one scrolls,
// types, walks with the arrow keys and chooses (see fluid).
//   node test/desk/many.mjs [--shots DIR] [--bench]
import { mkdir, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { load } from "../frames.mjs";
import { check, tally, want } from "../harness.mjs";
import { fluid, openDesk, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots, bench } } = parseArgs({ options: { shots: { type: "string" }, bench: { type: "boolean", default: false } } });
const many = 2000;
const folder = await tempFolder();
const jobs = join(folder.dir, "jobs");
for (let i = 0; i < many; i++) {
  const dir = join(jobs, `zone-${i % 20}`, `site-${i}`);
  await mkdir(dir, { recursive: true });
  const day = new Date(Date.now() + ((i % 60) - 5) * 86_400_000).toISOString().slice(0, 10);
  await writeFile(join(dir, "job.toml"), `name = "Site ${i}, Juniper Ct"\nnumber = "P-${i}"\nmargin = "50ft"\n\n[[around]]\ncenter = "${40 + i / 5000},-140.4968"\nradius = "80ft"\n\n[[base]]\nsource = "practice"\n\n[ticket]\nvalid_until = ${day}\n`);
}
const desk = await startDesk({ folders: [jobs], home: join(folder.dir, "home") });
const opened = Date.now();
const { page, complaints, close } = await openDesk(desk);
await page.locator("#jobs .job").first().waitFor();
console.log(`2,000 jobs listed after ${Date.now() - opened} ms (${load()})`);
const list = page.locator("#jobs .list");
const work = (what, move) => fluid(page, what, move, bench);

await check("only what is in view is in the page, and says where it stands", async () => {
  want(await page.locator("#jobs .count").innerText() === String(many), await page.locator("#jobs .count").innerText());
  const n = await page.locator("#jobs .job").count();
  want(n > 5 && n < 60, `${n} rows`);
  want(await page.locator("#jobs li").first().getAttribute("aria-setsize") === String(many), "no size of the whole");
});
await work("scrolling to the end and back", async () => {
  const box = await list.boundingBox();
  await page.mouse.move(box.x + 100, box.y + 200);
  for (let i = 0; i < 40; i++) {
    await page.mouse.wheel(0, i < 20 ? 9000 : -9000);
    await page.waitForTimeout(30);
  }
});
await work("typing what is looked for", async () => {
  await page.locator("#jobs input").pressSequentially("site 19", { delay: 60 });
  await page.waitForTimeout(300);
});
await check("what is found is what was typed", async () => {
  want(/^\d+ of 2000$/.test(await page.locator("#jobs .count").innerText()), await page.locator("#jobs .count").innerText());
  want((await page.locator("#jobs .job").first().innerText()).includes("Site 19"), await page.locator("#jobs .job").first().innerText());
  await page.locator("#jobs input").fill("");
});
await work("walking with the arrow keys, to the end, and choosing", async () => {
  await page.locator("#jobs .job").first().focus();
  for (const key of [...Array(20).fill("ArrowDown"), "PageDown", "End", "Home", "End", "ArrowUp"]) {
    await page.keyboard.press(key);
    await page.waitForTimeout(20);
  }
  await page.keyboard.press("Enter");
  await page.waitForTimeout(600);
});
await check("the keys have walked there, and the job is chosen", async () => {
  const at = await page.evaluate(() => document.activeElement.closest("li")?.getAttribute("aria-posinset"));
  want(at === String(many - 1), `at ${at}`);
  want((await page.locator("#job-name").innerText()).startsWith("Site "), await page.locator("#job-name").innerText());
  want(complaints.length === 0, complaints.join(" | "));
});
await work("a job that changes by another's hand", async () => {
  const dir = join(jobs, "zone-0", "site-0");
  await writeFile(join(dir, "job.toml"), 'name = "Changed"\nmargin = "50ft"\n[[around]]\ncenter = "40,-140"\nradius = "80ft"\n[[base]]\nsource = "practice"\n');
  await page.waitForTimeout(4500);
});
if (shots) await page.screenshot({ path: join(shots, "desk-many.png") });
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
