// Checks the list of records: that it tells of every one in words, to a screen reader and a
// keyboard too, that the search finds them, and that the map goes to the one that is chosen.
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { check, goTo, openPage, settled, tapMiddle, want } from "./harness.mjs";
import { violations } from "./tools.mjs";

const phone = { name: "phone", width: 390, height: 844, density: 2, touch: true, zone: "America/Phoenix" };
const desk = { name: "desk", width: 1440, height: 900, density: 1, touch: false, zone: "America/Phoenix" };

async function opened(site, screen, look) {
  const one = await openPage(screen);
  await one.page.addInitScript((l) => localStorage.setItem("groundsheet look", l), look);
  await one.page.goto(site.href);
  await one.page.locator('body[data-state="ready"]').waitFor({ timeout: 60_000 });
  await settled(one.page);
  return one;
}

const counted = (page) => page.locator("#sheet-body .count");

/** Opens the list, with all that it shows in steps. */
async function openList(page) {
  await page.click("#show-records");
  await page.locator("#records-find").waitFor({ timeout: 5000 });
  for (const more of await page.locator("#sheet-body button.more").filter({ hasText: /more of/ }).all()) await more.click();
}

/** What is recorded, asked for beside the page: a label and a kind of each feature. */
async function recorded(site) {
  const answer = async (path) => (await fetch(new URL(path, site))).json();
  const { packs } = await answer("/packs.json");
  const about = await answer(packs[0].about);
  const { overlays } = await answer(about.overlays);
  const small = overlays.filter((o) => o.tilejson === undefined);
  const features = (await Promise.all(small.map(async (o) => (await answer(o.url)).features.map((f) => ({ ...f.properties, geometry: f.geometry, overlay: o }))))).flat();
  return { about, features };
}

export async function recordListChecks(site, shots) {
  const { about, features } = await recorded(site);
  const axe = await readFile(new URL("../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
  for (const [screen, look] of [[phone, "day"], [phone, "night"], [phone, "sun"], [desk, "day"]]) {
    const { browser, page, complaints } = await opened(site, screen, look);
    const name = `records, ${screen.name}, ${look}`;
    await openList(page);
    await page.screenshot({ path: join(shots, `${screen.name}-${look}-records.png`) });
    await check(`${name}: axe-core finds nothing in the list`, async () => {
      const found = await violations(page, axe);
      want(found.length === 0, found.join(" | "));
    });
    if (look === "day") await oneLook(page, { name, about, features });
    if (screen === phone && look === "day") {
      await tapChecks(page, name, about, site);
      await page.click("#show-records");
    }
    await page.locator("#sheet-body .found button").first().click();
    await settled(page);
    await page.screenshot({ path: join(shots, `${screen.name}-${look}-record.png`) });
    await check(`${name}: axe-core finds nothing in the details`, async () => {
      const found = await violations(page, axe);
      want(found.length === 0, found.join(" | "));
    });
    await check(`${name}: no complaint in the console`, () => want(complaints.length === 0, complaints.join(" | ")));
    await browser.close();
  }
}

async function oneLook(page, { name, about, features }) {
  await check(`${name}: who looks for something has the whole height: a keyboard takes the lower half`, async () => {
    const box = page.locator("#sheet");
    if (!(await page.locator("#sheet-grip").isVisible())) return;
    const before = (await box.boundingBox()).height;
    want((await page.locator("#records-find").boundingBox()).y + 44 < (await page.locator("#readout").boundingBox()).y, "the field is not in sight at first");
    await page.focus("#records-find");
    want((await box.boundingBox()).height > before + 100, `${before} pixels, and no more with the field`);
    await page.focus("#sheet-grip");
    await page.keyboard.press("ArrowDown");
    want(Math.abs((await box.boundingBox()).height - before) < 3, "it does not come back");
  });
  await check(`${name}: at its first height the list shows two records, and each caution in one line`, async () => {
    const end = await page.evaluate(() => Math.min(innerHeight, document.getElementById("readout").getBoundingClientRect().top));
    const second = await page.locator("#sheet-body .found button").nth(1).boundingBox();
    want(second.y + 24 <= end, `the second is at ${second.y}, the sheet ends at ${end}`);
    const lines = await page.locator("#sheet-body .fixed.small").evaluateAll((all) => all.map((e) => e.offsetHeight));
    want(lines.every((h) => h <= 28), `${lines} pixels high`);
  });
  await check(`${name}: a screen reader hears of every record, in lists under headings`, async () => {
    const tree = await page.locator("#sheet-body").ariaSnapshot();
    const section = tree.slice(0, tree.indexOf("Worked out from the records"));
    const items = section.split("\n").filter((l) => /^\s*- listitem/.test(l)).length;
    want(items === features.length, `${items} items, ${features.length} records\n${section.slice(0, 800)}`);
    for (const label of new Set(features.map((f) => f.label).filter(Boolean))) want(section.includes(label), `no word of “${label}”`);
    for (const utility of new Set(features.map((f) => f.overlay.utility_name))) {
      want(new RegExp(`heading "${utility.replace(/[.*+?^${}()|[\]\\]/g, ".")}: \\d+" \\[level=4\\]`, "i").test(section), `no heading of ${utility}`);
    }
    want(/heading "Recorded in the dig area: \d+" \[level=3\]/.test(section), "the dig area has no heading");
    want(section.includes("searchbox"), "no search box");
    for (const missing of about.expected_missing) {
      const at = section.toLowerCase().indexOf(`${missing}: no record`);
      want(at >= 0 && at < section.indexOf("searchbox"), `that ${missing} is not recorded is not said first`);
    }
  });
  await check(`${name}: the search finds by a label, however it is typed, and says how many`, async () => {
    const one = features.find((f) => f.line && f.label);
    want(one !== undefined, "the pack has no reading of a named line");
    await page.fill("#records-find", `${one.line.toUpperCase().replace("-", " ")}  ${one.label.toLowerCase()}`);
    await counted(page).getByText(/^\d+ records? found\. Searched: what \d+ loaded records state\./).waitFor({ timeout: 3000 });
    const first = await page.locator("#sheet-body .found button").first().innerText();
    want(first.includes(`${one.label}, line ${one.line}`), `the first is “${first}”`);
  });
  await check(`${name}: nothing found says what was searched, and that it means nothing of the ground`, async () => {
    await page.fill("#records-find", "no such thing");
    await counted(page).getByText(`Nothing found for “no such thing”. That does not mean nothing is there. Searched: what ${features.length} loaded records state.`).waitFor({ timeout: 3000 });
    want(await page.locator("#sheet-body .found button").count() === 0, "something is listed");
    await page.fill("#records-find", "");
  });
  await check(`${name}: by the keyboard alone one is chosen, the map goes there and marks it, and back`, async () => {
    const label = features.find((f) => f.label && f.geometry.type === "Point").label;
    await page.fill("#records-find", label);
    await page.focus("#records-find");
    await page.keyboard.press("Tab");
    const text = await page.evaluate(() => document.activeElement.innerText);
    want(text.includes(label), `the focus is on “${text}”`);
    await page.keyboard.press("Enter");
    await page.locator("#sheet-body .hit").waitFor({ timeout: 3000 });
    await settled(page);
    const spot = await page.evaluate(() => {
      const { map } = window.groundsheet;
      const marked = map.getAllLayers().find((l) => l.getZIndex() === 11.4).getSource().getFeatures();
      const [x, y] = map.getPixelFromCoordinate(marked[0].getGeometry().getFirstCoordinate());
      const { left, top } = document.getElementById("map").getBoundingClientRect();
      return [marked.length, document.elementFromPoint(left + x, top + y)?.closest("#map, #sheet")?.id];
    });
    want(spot[0] === 1 && spot[1] === "map", `${spot[0]} marked, the first lies under ${spot[1]}`);
    await page.locator("#sheet-body .back button").press("Enter");
    const again = await page.evaluate(() => document.activeElement.innerText);
    want(again === text, `the focus came back to “${again}”`);
  });
}

/** How many features are marked, and how many of them lighter. */
const marked = (page) => page.evaluate(() => {
  const all = window.groundsheet.map.getAllLayers().find((l) => l.getZIndex() === 11.4).getSource().getFeatures();
  return [all.length, all.filter((f) => f.get("lighter") === true).length];
});

/** Where several lie they are a list: the one that is looked at is marked, the others lighter. */
async function tapChecks(page, name, about, site) {
  const { features } = await (await fetch(new URL(about.known, site))).json();
  const crossing = features.find((f) => f.properties.part === "crossing");
  await check(`${name}: a tap where several lie lists them, with how far each is, and marks the one that is chosen`, async () => {
    await page.keyboard.press("Escape");
    await goTo(page, crossing.geometry.coordinates, 21);
    await tapMiddle(page, phone);
    await page.locator("#sheet-body .found").first().waitFor({ timeout: 5000 });
    const title = await page.locator("#sheet-title").innerText();
    const lines = await page.locator("#sheet-body .found").first().locator("button").allInnerTexts();
    want(new RegExp(`^${lines.length} records (here|nearby)$`).test(title) && lines.length > 1, `“${title}” over ${lines.length} lines`);
    for (const l of lines) want(/ · (here|[\d.]+ (in|ft|cm|m) away|\d+′ \d+″ away)$/.test(l.trim()), `no distance in “${l}”`);
    const [all, lighter] = await marked(page);
    want(all > lines.length && all === lighter, `${lighter} of ${all} are lighter while none is chosen`);
    await page.locator("#sheet-body .found button", { hasText: `Crossing ${crossing.properties.number}` }).click();
    await page.locator("#sheet-body .hit").waitFor({ timeout: 3000 });
    want(String(await marked(page)) === String([all, all - 1]), `marked, lighter: ${await marked(page)} of ${all}`);
    await page.getByRole("button", { name: /Back to the list/ }).click();
    want(await page.locator("#sheet-title").innerText() === title, "the list did not come back");
    want((await page.evaluate(() => document.activeElement.innerText)).includes(`Crossing ${crossing.properties.number}`), "the focus did not come back");
    await page.keyboard.press("Escape");
    want(String(await marked(page)) === "0,0", `${await marked(page)} stay marked`);
  });
}

/** Records of very many features: listed by pages and searched on the laptop, and told of when it does not answer. */
export async function largeListChecks(site, { title, features }, shots) {
  const { browser, page, complaints } = await opened(site, phone, "day");
  await page.click("#show-records");
  const section = page.locator("#sheet-body .listed", { hasText: "Records of very many features" });
  await check("records, very many: told with their number, and listed page by page", async () => {
    await section.getByRole("heading", { name: `${title}: ${features.toLocaleString("en")}` }).waitFor({ timeout: 5000 });
    await section.getByRole("button", { name: "List them" }).click();
    await section.locator(".found button").nth(24).waitFor({ timeout: 10_000 });
    await section.getByRole("button", { name: "Show more" }).click();
    await section.locator(".found button").nth(49).waitFor({ timeout: 10_000 });
    want(/(in|outside) the dig area/.test(await section.innerText()), "where they lie is not said");
  });
  await check("records, very many: the laptop searches them, and the list says so", async () => {
    await page.fill("#records-find", String(features - 1));
    await counted(page).getByText(new RegExp(`Searched on the laptop: “${title.replace(/[()]/g, "\\$&")}” \\(${features.toLocaleString("en")} features\\)`)).waitFor({ timeout: 60_000 });
    want(await section.locator(".found button").count() === 1, `${await section.locator(".found button").count()} are listed`);
    await page.screenshot({ path: join(shots, "big-found.png") });
    await section.locator(".found button").click();
    await page.locator("#sheet-body .hit").getByText(String(features - 1)).first().waitFor({ timeout: 10_000 });
    await page.locator("#sheet-body .back button").click();
  });
  await check("records, very many: out of reach it says what was not searched", async () => {
    await page.route("**/features?*find=*", (route) => route.abort());
    await page.fill("#records-find", "no such thing");
    await counted(page).getByText("NOT searched").waitFor({ timeout: 30_000 });
    const text = await counted(page).innerText();
    want(text.startsWith("Nothing found for") && text.includes(title) && text.includes("did not answer"), text);
  });
  await check("records, very many: no complaint in the console", () => want(complaints.filter((c) => !c.includes("ERR_FAILED")).length === 0, complaints.join(" | ")));
  await browser.close();
}
