// A field book is dropped on the desk, looked at and brought home:  node test/desk/home.mjs [--shots DIR]
// The book is made here with a SQLite shell and SHA-256 alone, as its format is described.
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdir, readFile, readdir } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, settled, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const site = join(folder.dir, "jobs", "valve");
const made = await run(home, "new", site, "--name", "Valve 12", "--number", "24-117", "--around", "40.0123,-105.0456", "--radius", "300ft", "--source", "practice");
if (made.code !== 0) throw new Error(made.out);

const sha = (text) => createHash("sha256").update(text).digest("hex");
const nets = (fields) => fields.map((f) => `${Buffer.byteLength(f)}:${f},`).join("");
const id = (name) => sha(name).slice(0, 32);
const sql = (text) => `'${text.replaceAll("'", "''")}'`;

/** The text of the first entry of a reading. */
const reading = (name, north, position, more = {}) => JSON.stringify({
  layout: 1, id: id(name), mark: id(name), after: [], action: "write", who: "Ann", phone: id("phone"), clock: "2026-11-29T12:00:00Z", clock_ahead_s: 0,
  feature: { type: "Feature", geometry: { type: "Point", coordinates: [-105.0456, 40.0123 + north] }, properties: { kind: "reading", utility: "water", depth_m: 1.1, quality_level: "B", position, ...more } },
});

/** A field book of these texts. */
async function book(name, texts) {
  const file = join(folder.dir, name);
  const about = { book: id(name), made: "2026-11-29T11:00:00.000Z", name: "Valve 12", number: "24-117", program: "a test", seal: "" };
  const lines = [await readFile(new URL("../../../../pack/fieldbook/schema.sql", import.meta.url), "utf8"), "PRAGMA application_id=1196639810;", "PRAGMA user_version=1;"];
  for (const [key, value] of Object.entries(about)) lines.push(`INSERT INTO about VALUES(${sql(key)},${sql(value)});`);
  let before = sha(nets(Object.keys(about).sort().flatMap((k) => [k, about[k]])));
  for (const [i, text] of texts.entries()) {
    const t = JSON.parse(text);
    const fields = [before, `${i + 1}`, t.id, t.mark, t.action, "2026-11-29T12:00:01.000Z", "s", "mark", text];
    const hash = sha(nets(fields));
    lines.push(`INSERT INTO entry VALUES(${i + 1},${[t.id, t.mark, t.action, text, "2026-11-29T12:00:01.000Z", "s", "mark", before, hash].map(sql).join(",")});`);
    before = hash;
  }
  execFileSync("sqlite3", [file], { input: lines.join("\n") });
  return readFile(file);
}

const good = await book("valve-12.fieldbook", [reading("a", 0, { from: "receiver", stated_m: 0.03 }), reading("b", 1e-4, { from: "cross" }, { label: "<b>V12</b>" }),
  reading("c", 0.3, { from: "receiver", stated_m: 4 })]);
const bad = Buffer.from(good);
bad.write("Bob", bad.indexOf('"who":"Ann"') + 7);

const desk = await startDesk({ folders: [join(folder.dir, "jobs")], home });
const { page, complaints, strangers, close } = await openDesk(desk, { width: 1024, height: 768 });
const dialog = page.locator("dialog[open]");
const drop = (name, data, on = "#stage") => page.locator(on).evaluate((e, [name, bytes]) => {
  const transfer = new DataTransfer();
  transfer.items.add(new File([Uint8Array.from(bytes)], name));
  for (const type of ["dragenter", "dragover", "drop"]) e.dispatchEvent(new DragEvent(type, { dataTransfer: transfer, bubbles: true, cancelable: true }));
}, [name, [...data]]);
const words = async (l) => (await l.innerText()).replace(/\s+/g, " ");
const shoot = async (name) => {
  if (!shots) return;
  await mkdir(shots, { recursive: true });
  await settled(page);
  await page.screenshot({ path: join(shots, `${name}.png`) });
};

await check("a book that is dropped is proved and shown before anything is written", async () => {
  await page.locator("#jobs .job").first().click();
  await page.locator("#panel-home").waitFor();
  const view = () => page.evaluate(() => window.groundsheet.map.getView().getCenter().join());
  let before = "";
  for (let now = await view(); now !== before; now = await view()) { // a job that opens brings its area into view
    before = now;
    await page.waitForTimeout(700);
  }
  await drop("valve-12.fieldbook", good);
  await page.locator("#bring").waitFor();
  const told = await words(dialog);
  want(told.includes("3 new, 0 changed, 0 struck"), told);
  want(told.includes("3 entries, 0 photos; new to this job"), told);
  want(told.includes("no error is stated") && told.includes("may be off by 13.1 ft") && told.includes('"<b>V12</b>" by Ann, 2026-11-29'), told);
  want(!(await readdir(site)).includes("fieldbooks"), "something was written");
  await shoot("home-dialog");
  await dialog.locator(".doubts button").first().click();
  const hidden = await page.evaluate(() => {
    const { map } = window.groundsheet;
    const [x] = map.getPixelFromCoordinate(map.getLayers().getArray().find((l) => l.get("name") === "highlight").getSource().getFeatures()[0].getGeometry().getExtent());
    return map.getTargetElement().getBoundingClientRect().left + x > document.querySelector("dialog[open]").getBoundingClientRect().left;
  });
  want(!hidden, "the place lies under the dialog");
  await shoot("home-place");
  await page.keyboard.press("Escape");
  await dialog.waitFor({ state: "detached" });
  for (let n = 0; n < 20 && await view() !== before; n++) await page.waitForTimeout(50); // it comes back right after the dialog has gone
  want(await view() === before, "the view is not what it was");
  await drop("valve-12.fieldbook", good);
  await page.locator("#bring").waitFor();
});
await check("it is brought home, and shown as records", async () => {
  await page.locator("#bring").click();
  await dialog.waitFor({ state: "detached" });
  await page.locator('#panel-recorded .one[data-file="overlays/found-water.geojson"]').waitFor();
  want((await readFile(join(site, "job.toml"), "utf8")).includes("overlays/found-water.geojson"), "job.toml names no overlay");
  want((await readdir(join(site, "fieldbooks"))).length === 1, "the book is not kept");
  await shoot("home-done");
});
await check("again there is nothing to bring", async () => {
  await drop("valve-12.fieldbook", good, "#panel-home");
  await dialog.waitFor();
  want((await words(dialog)).includes("Nothing new"), await words(dialog));
  want(await page.locator("#bring").count() === 0, "it can be brought again");
  await dialog.locator(".head button").click();
});
await check("a book in which somebody wrote is refused, and told where", async () => {
  const before = await readFile(join(site, "job.toml"), "utf8");
  await drop("changed.fieldbook", bad);
  const told = page.locator("#told .bad").last();
  await told.waitFor();
  want(/changed\.fieldbook: entry \d is not what it was when it came/.test(await words(told)), await words(told));
  want(await readFile(join(site, "job.toml"), "utf8") === before, "something was written");
});
await check("nothing but the refusal is complained of, and nobody else is asked", async () => {
  const others = complaints.filter((c) => !/400 \(Bad Request\).*\/collect/.test(c));
  want(others.length + strangers.length === 0, [...others, ...strangers].join(" | "));
});
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
