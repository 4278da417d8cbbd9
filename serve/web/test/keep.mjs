// Proves that a job is kept on a phone, whole, and opens without the laptop:
//   node test/keep.mjs --program bin/groundsheet --pack FILE.mbtiles --shots DIR
// It needs certutil (Debian: libnss3-tools) to let the browser trust a certificate.
import { copyFile, mkdir, mkdtemp, rename, rm, utimes } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { openBrowser } from "./chromium.mjs";
import { startServer } from "./fieldserver.mjs";
import { check, goTo, mapShot, settled, tally, tapMiddle, want } from "./harness.mjs";
import { coloursInMiddle } from "./pixels.mjs";
import { trustingHome } from "./trust.mjs";

const { values } = parseArgs({ options: { program: { type: "string" }, pack: { type: "string" }, shots: { type: "string" } } });
if (!values.program || !values.pack || !values.shots) {
  console.error("use: node test/keep.mjs --program bin/groundsheet --pack FILE.mbtiles --shots DIR");
  process.exit(2);
}

const name = "crew-7.local";
const named = (url) => url.replace("127.0.0.1", name);
const screen = { touch: true };
const phone = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 2, hasTouch: true };
const resolve = [`--host-resolver-rules=MAP ${name} 127.0.0.1`];
const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 30_000 });
const keep = (page) => page.locator("section.keep");
const shot = (page, what) => page.screenshot({ path: join(values.shots, `keep-${what}.png`) });

/** Opens the sheet with the part about keeping; gives its words once they hold these. */
async function openKeep(page, words) {
  if (await page.locator("#sheet.open").count() > 0) await page.click("#sheet-close");
  await page.click("#status");
  const part = keep(page);
  await part.waitFor();
  await part.getByText(words).waitFor({ timeout: 20_000 }).catch(async () => { throw new Error(`no "${words}" in: ${await part.innerText()}`); });
  return part.innerText();
}

/** All caches: how many things each holds, by name. */
const cached = (page) => page.evaluate(async () => {
  const all = {};
  for (const n of await caches.keys()) all[n] = (await (await caches.open(n)).keys()).length;
  return all;
});
const copies = async (page) => Object.entries(await cached(page)).filter(([n]) => n.startsWith("groundsheet kept"));

/** Everything on the list, asked for through the worker: what did not come, and what came with another hash. */
const provedOffline = (page, list) => page.evaluate(async (l) => {
  const wrong = [];
  let proved = 0;
  const hex = (b) => [...new Uint8Array(b)].map((v) => v.toString(16).padStart(2, "0")).join("");
  for (const { z, x, y, marks } of l.spans) {
    for (let i = 0; i * 16 < marks.length; i++) {
      const path = l.tiles.replace("{z}", z).replace("{x}", x + i).replace("{y}", y);
      const answer = await fetch(path).catch(() => null);
      const mark = marks.slice(i * 16, i * 16 + 16);
      if (answer === null || answer.status > 204) wrong.push(path);
      else if (!mark.startsWith("-")) {
        if (!hex(await crypto.subtle.digest("SHA-256", await answer.arrayBuffer())).startsWith(mark)) wrong.push(`hash of ${path}`);
        else proved++;
      }
    }
  }
  for (const path of l.documents) if ((await fetch(path).catch(() => null))?.status !== 200) wrong.push(path);
  return { wrong, proved };
}, list);

/** A map over the whole dig area and at its corners, at every zoom: the paths of tiles that did not come, and the fewest colors seen. */
async function everyZoom(page, area, zooms) {
  const failed = [];
  const note = (r) => /\/tiles\/\d/.test(r.url()) && failed.push(r.url());
  page.on("requestfailed", note);
  let least = Infinity;
  for (const zoom of zooms) {
    for (const at of area) {
      await goTo(page, at, zoom);
      least = Math.min(least, coloursInMiddle(await mapShot(page)));
    }
  }
  page.off("requestfailed", note);
  return { failed, least };
}

await mkdir(values.shots, { recursive: true });
const config = await mkdtemp(join(tmpdir(), "groundsheet-config-"));
const pack = join(config, "larkwater.mbtiles");
await copyFile(values.pack, pack);
const serve = (...more) => startServer(values.program, pack, config, "--name", "crew-7", ...more);
let https = await serve("--https");
const plain = await serve();
const port = new URL(https.at).port;
const home = await trustingHome(https);
const { context, close } = await openBrowser({ ...phone, env: { ...process.env, HOME: home } }, resolve);
const page = await context.newPage();
const complaints = [];
page.on("pageerror", (e) => complaints.push(String(e)));
try {
  await check("over plain http it is said why nothing can be kept, and what to do", async () => {
    await page.goto(named(plain.link));
    await ready(page);
    await page.click("#status");
    const text = await page.locator("#sheet-body").innerText();
    want(text.includes("Keep this job on this phone") && text.includes("plain http") && text.includes("--https"), text);
    want(await page.locator('link[rel="manifest"]').count() === 0, "a page that cannot be installed names a manifest");
  });

  await page.goto(named(https.link));
  await ready(page);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await settled(page);
  await check("the map can be installed", async () => {
    const devtools = await context.newCDPSession(page);
    const { url, errors, data } = await devtools.send("Page.getAppManifest");
    want(url.endsWith("/manifest.webmanifest") && errors.length === 0, `${url} ${JSON.stringify(errors)}`);
    const manifest = JSON.parse(data);
    want(manifest.start_url === "/" && manifest.display === "standalone" && manifest.icons.length === 3, data);
    const { installabilityErrors } = await devtools.send("Page.getInstallabilityErrors");
    want(installabilityErrors.length === 0, JSON.stringify(installabilityErrors));
    for (const icon of manifest.icons) {
      const sides = await page.evaluate(async (src) => {
        const i = new Image();
        i.src = src;
        await i.decode();
        return `${i.naturalWidth}x${i.naturalHeight}`;
      }, icon.src);
      want(sides === icon.sizes, `${icon.src}: ${sides}`);
    }
  });

  const id = await page.evaluate(async () => (await (await fetch("/packs.json")).json()).packs[0].id);
  const list = await page.evaluate(async (p) => (await fetch(`/packs/${p}/keep.json`)).json(), id);
  const devtools = await context.newCDPSession(page);
  const origin = named(https.at);

  await check("before, its size and the room are told, and what the browser promises", async () => {
    const text = await openKeep(page, "has room for about");
    want(/about [\d.]+ MB/.test(text) && text.includes("has room for about") && text.includes("7 days"), text);
    want(await page.getByRole("button", { name: "Keep this job" }).isVisible(), "no button");
    await shot(page, "offer");
  });
  await check("no room: said in words, what came stays, and nothing is called complete", async () => {
    const { usage } = await page.evaluate(() => navigator.storage.estimate());
    await devtools.send("Storage.overrideQuotaForOrigin", { origin, quotaSize: usage + list.bytes * 0.4 });
    // Chromium tells any page of about 10 GB, whatever there is, so what it tells is put in here.
    await page.evaluate(() => { navigator.storage.estimate = () => Promise.resolve({ quota: 100_000, usage: 0 }); });
    await openKeep(page, "Not enough room");
    await page.evaluate(() => { navigator.storage.estimate = () => Promise.resolve({}); });
    await openKeep(page, "The map then opens here");
    await page.getByRole("button", { name: "Keep this job" }).click();
    await page.getByText("no more room").waitFor({ timeout: 60_000 });
    const text = await keep(page).innerText();
    want(/NOT complete: \d+ of \d+/.test(text) && text.includes("Go on") && text.includes("Remove"), text);
    await shot(page, "full");
  });
  await check("with room again it goes on, to the end", async () => {
    await devtools.send("Storage.overrideQuotaForOrigin", { origin });
    await openKeep(page, "NOT complete");
    const before = (await copies(page))[0][1];
    await page.getByRole("button", { name: "Go on" }).click();
    await page.getByText("Complete: all").waitFor({ timeout: 120_000 });
    want(before > 5 && (await copies(page))[0][1] > before, `${before}, then ${JSON.stringify(await copies(page))}`);
    const text = await keep(page).innerText();
    want(text.includes(`all ${list.count + list.documents.length} of ${list.count + list.documents.length}`) && text.includes("seal") && /[\d.]+ MB/.test(text), text);
    await keep(page).scrollIntoViewIfNeeded();
    await shot(page, "complete");
  });
  await check("what is seen besides goes another way, and takes nothing of the copy", async () => {
    const [[, before]] = await copies(page);
    await goTo(page, await page.evaluate(() => window.groundsheet.map.getView().getCenter()).then(() => list.box.slice(0, 2).map((v, i) => (v + list.box[i + 2]) / 2)), 21);
    want((await copies(page))[0][1] === before, "the copy changed");
  });

  await https.stop();
  await check("laptop gone: the page opens, says that it is a copy, and everything on its list is there", async () => {
    await page.goto(origin);
    await ready(page);
    const { wrong, proved } = await provedOffline(page, list);
    want(wrong.length === 0 && proved > 100, `${wrong.length} wrong: ${wrong.slice(0, 3)}; ${proved} proved`);
    await page.locator("#status").filter({ hasText: /[Kk]ept copy of \d{4}-\d\d-\d\d, not live/ }).waitFor({ timeout: 15_000 });
    await shot(page, "gone");
  });
  await check("laptop gone: at every zoom the dig area has its picture, also enlarged ones", async () => {
    const [w, s, e, n] = list.box;
    const at = (x, y) => [w + (e - w) * x, s + (n - s) * y];
    const zooms = [...new Set(list.spans.map((span) => span.z))].flatMap((z) => [z - 1, z + 0.4]);
    const { failed, least } = await everyZoom(page, [at(0.5, 0.5), at(0.1, 0.1), at(0.9, 0.9)], [...zooms, 24]);
    want(failed.length === 0, `${failed.length} failed: ${failed.slice(0, 3)}`);
    want(least > 8, `${least} colors`);
  });
  await check("laptop gone: records open, and none is missing", async () => {
    await page.click("#show-layers");
    want(await page.locator(".records .fault").count() === 0, "a record is missing");
    await page.click("#sheet-close");
    const place = await page.evaluate(async (p) => {
      const { overlays } = await (await fetch(`/packs/${p}/overlays.json`)).json();
      for (const o of overlays) {
        const { features } = await (await fetch(o.url)).json();
        const point = features.find((f) => f.geometry?.type === "Point" && f.properties.depth_m);
        if (point) return point.geometry.coordinates;
      }
      return null;
    }, id);
    await goTo(page, place, 22);
    await tapMiddle(page, screen);
    await page.locator("#sheet.open").waitFor({ timeout: 5000 });
    want(/Depth|depth/.test(await page.locator("#sheet-body").innerText()), await page.locator("#sheet-body").innerText());
  });

  https = await serve("--https", "--listen", `127.0.0.1:${port}`);
  await check("laptop back with another version: it is told, and the copy is replaced only when the new one is whole", async () => {
    await copyFile(pack, `${pack}.new`);
    await utimes(`${pack}.new`, new Date(), new Date());
    await rename(`${pack}.new`, pack);
    await page.waitForTimeout(2500);
    await page.goto(origin);
    await ready(page);
    await openKeep(page, "another version of this pack");
    const [[old]] = await copies(page);
    await page.getByRole("button", { name: "Keep the version shown" }).click();
    await page.waitForFunction(() => /Complete: all/.test(document.querySelector("section.keep").textContent), null, { timeout: 120_000 });
    const now = await copies(page);
    want(now.length === 1 && now[0][0] !== old, JSON.stringify(now));
  });
  await check("one tap takes it off", async () => {
    await openKeep(page, "Complete: all");
    await page.getByRole("button", { name: "Remove from this phone" }).click();
    await page.getByRole("button", { name: "Keep this job" }).waitFor();
    want((await copies(page)).length === 0, JSON.stringify(await cached(page)));
  });
  await check("nothing failed on the page", async () => want(complaints.length === 0, complaints.join(" | ")));
} finally {
  await close();
  await Promise.all([https.stop(), plain.stop()]);
  for (const folder of [config, home]) await rm(folder, { recursive: true, force: true });
}

console.log(`\n${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed > 0 ? 1 : 0);
