// The desk by keyboard alone (WCAG 2.2, 2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11), and as axe-core sees it, by day and
// by night, on both sizes:  node test/desk/keyboard.mjs [--shots DIR]
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, tally, want } from "../harness.mjs";
import { violations } from "../tools.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const axe = await readFile(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
for (const [name, at] of [["Valve 12", "40.4986,-140.4968"], ["Juniper Ct service", "40.5,-140.49"], ["Old main", "40.51,-140.5"]]) {
  const { code, out } = await run(home, "new", join(jobs, name.replaceAll(" ", "-")), "--name", name, "--around", at, "--radius", "60ft", "--source", "practice");
  if (code !== 0) throw new Error(out);
}
const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, close } = await openDesk(desk);
await page.locator("#jobs .job").nth(2).waitFor();

/** What has the focus: a name, whether it is seen to have it, whether something covers it. */
const focused = () => page.evaluate(() => {
  const e = document.activeElement;
  if (e === null || e === document.body) return null;
  e.dataset.reached = "";
  const [style, after] = [getComputedStyle(e), getComputedStyle(e, "::after")];
  const r = e.getBoundingClientRect();
  const top = document.elementFromPoint((Math.max(r.left, 0) + Math.min(r.right, innerWidth)) / 2, (Math.max(r.top, 0) + Math.min(r.bottom, innerHeight)) / 2);
  return {
    name: e.id || e.getAttribute("aria-label") || e.textContent.trim().slice(0, 40) || e.tagName,
    seen: parseFloat(style.outlineWidth) >= 2 && style.outlineStyle !== "none" || style.boxShadow !== "none" || after.borderStyle.includes("solid"),
    covered: e.id !== "map" && !(top !== null && (e.contains(top) || top.contains(e) || [...(e.labels ?? [])].some((l) => l.contains(top)))),
    named: (e.getAttribute("aria-label") ?? e.textContent ?? "").trim() !== "" || (e.labels?.length ?? 0) > 0 || e.id === "map",
  };
});

/** Goes on with Tab until it comes round; what is wrong with any stop, and what was left out. */
async function walk(within) {
  await page.evaluate(() => document.querySelectorAll("[data-reached]").forEach((e) => delete e.dataset.reached));
  await page.waitForTimeout(400);
  await page.waitForFunction(() => document.querySelector("#panel-takes[aria-busy]") === null); // what can be reached is there
  const wrong = [];
  const stops = [];
  for (let i = 0; i < 120; i++) {
    await page.keyboard.press("Tab");
    const stop = await focused();
    if (stop === null) continue; // it comes round by way of the browser's own buttons
    if (stops.length > 3 && stop.name === stops[0]) break;
    stops.push(stop.name);
    for (const [bad, what] of [[!stop.seen, "does not show its focus"], [stop.covered, "is covered"], [!stop.named, "has no name"]]) if (bad) wrong.push(`${stop.name} ${what}`);
  }
  const missed = await page.evaluate((root) => [...document.querySelector(root).querySelectorAll("button, input, select, textarea, a[href], [tabindex='0']")]
    .filter((e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== "hidden" && !e.disabled && e.tabIndex >= 0 && e.dataset.reached === undefined)
    .filter((e) => e.type !== "radio" || !document.querySelector(`input[name="${e.name}"][data-reached]`))
    .map((e) => e.id || e.getAttribute("aria-label") || e.textContent.trim().slice(0, 40)), within);
  if (missed.length > 0) wrong.push(`not reached: ${missed.join(", ")}; reached: ${stops.join(", ")}`);
  want(stops.length > 0, "Tab reaches nothing");
  want(wrong.length === 0, wrong.join(" | "));
}

async function tabTo(name) {
  for (let i = 0; i < 120; i++) {
    await page.keyboard.press("Tab");
    if ((await focused())?.name === name) return;
  }
  throw new Error(`Tab does not come to ${name}`);
}

const looked = async (what) => check(`axe-core finds nothing: ${what}`, async () => {
  const found = await violations(page, axe);
  want(found.length === 0, found.join(" | "));
});

await check("without a job, Tab comes to everything", () => walk("body"));
await looked("no job");
await check("a job is chosen by its keys", async () => {
  await page.locator("#jobs .job").first().focus();
  await page.keyboard.press("ArrowDown");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.querySelector("#job-name").textContent !== "groundsheet");
  await page.waitForTimeout(500);
});
await check("with a job, Tab comes to everything", () => walk("body"));
await looked("a job, by day");
for (const name of ["Make ready…", "Places…", "Look"]) {
  await check(`${name}: it opens by a key, keeps Tab in it, and gives the focus back`, async () => {
    await tabTo(name);
    await page.keyboard.press("Enter");
    await page.locator("dialog[open]").waitFor();
    await page.waitForTimeout(300);
    await walk("dialog[open]");
    const found = await violations(page, axe);
    want(found.length === 0, found.join(" | "));
    await page.keyboard.press("Escape");
    await page.locator("dialog[open]").waitFor({ state: "detached" });
    want((await focused())?.name === name, `the focus is on ${(await focused())?.name}`);
  });
}
for (const look of ["night", "sun"]) {
  await page.evaluate((v) => localStorage.setItem("groundsheet look", v), look);
  await page.setViewportSize({ width: 1024, height: 768 });
  await page.reload();
  await page.locator("#jobs .job").nth(2).waitFor();
  await page.waitForTimeout(500);
  await looked(`${look}, on the small screen`);
  await check(`nothing is wider than the screen: ${look}`, async () => {
    want(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth && document.querySelector("#top").scrollWidth <= innerWidth), "too wide");
  });
  if (shots) await page.screenshot({ path: join(shots, `desk-keyboard-${look}.png`) });
}
want(complaints.length === 0, complaints.join(" | "));
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
