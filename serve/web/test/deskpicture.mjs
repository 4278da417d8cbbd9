// Photographs the desk for README.md, on the demo's job among some others, all invented:
//   node test/deskpicture.mjs --jobs DIR --store DIR --to DIR --largest BYTES
import { readFile, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { openBrowser } from "./chromium.mjs";
import { run, startDesk, tempFolder } from "./desk/harness.mjs";
import { settled } from "./harness.mjs";
import { small } from "./webp.mjs";

const { values } = parseArgs({ options: { jobs: { type: "string" }, store: { type: "string" }, to: { type: "string" }, largest: { type: "string" } } });
if (!values.jobs || !values.store || !values.to || !values.largest) {
  console.error("use: node test/deskpicture.mjs --jobs DIR --store DIR --to DIR --largest BYTES");
  process.exit(2);
}
const folder = await tempFolder();
const home = join(folder.dir, "home");
const others = [["Juniper Ct valve", "P-118", 1], ["Elm St 12, service", "P-121", 4], ["Pump house, north bank", "P-102", 9], ["Hill Rd crossing", "P-124", 11]];
for (const [i, [name, number, days]] of others.entries()) {
  const at = join(folder.dir, "jobs", number);
  const made = await run(home, "new", at, "--name", name, "--around", `40.49${80 + 4 * i},-140.49${60 + 5 * i}`, "--radius", `${60 + 20 * i}ft`, "--source", "practice");
  if (made.code !== 0) throw new Error(made.out);
  const day = new Date(Date.now() + days * 86_400_000).toISOString().slice(0, 10);
  const file = join(at, "job.toml");
  await writeFile(file, `${(await readFile(file, "utf8")).replace(/^number = .*\n/m, "").replace(/^name = .*$/m, (line) => `${line}\nnumber = "${number}"`)}\n[ticket]\nnumber = "INV-${number}"\nvalid_until = ${day}\n`);
}
const desk = await startDesk({ folders: [values.jobs, join(folder.dir, "jobs")], home, store: values.store });
const { context, close } = await openBrowser({ viewport: { width: 1440, height: 900 }, deviceScaleFactor: 1, colorScheme: "light" });
try {
  const page = await context.newPage();
  await page.goto(desk.link);
  await page.locator('body[data-state="ready"]').waitFor();
  await page.locator("#jobs .job", { hasText: "Larkwater" }).click();
  await page.locator("#index-work small.yes").waitFor({ timeout: 30_000 });
  await page.locator("#panel-takes .sum b").waitFor({ timeout: 30_000 });
  await page.waitForFunction(() => [...document.querySelectorAll("#jobs .job")].every((j) => j.querySelectorAll("small")[1]?.textContent !== ""), null, { timeout: 30_000 });
  await settled(page);
  await page.waitForTimeout(2500); // the pictures of the phone's window have come
  await small(page, context, join(values.to, "desk.webp"), Number(values.largest));
} finally {
  await close();
  await desk.stop();
  await folder.remove();
}
