// Several pictures of one place: changing them keeps the view, the records and what was measured.
// The second pack is made of the first one's documents; its tiles are of one color.
import { join } from "node:path";
import { crc32, deflateSync } from "node:zlib";
import { check, mapShot, openPage, settled, want } from "./harness.mjs";

const phone = { width: 390, height: 844, density: 1, touch: true };
const color = [250, 40, 200];

/** A PNG of one color (W3C PNG, 11.2: IHDR, IDAT, IEND). */
function flatPNG(side, [r, g, b]) {
  const chunk = (type, data) => {
    const body = Buffer.concat([Buffer.from(type), data]);
    const out = Buffer.alloc(8 + body.length);
    out.writeUInt32BE(data.length);
    body.copy(out, 4);
    out.writeUInt32BE(crc32(body), 4 + body.length);
    return out;
  };
  const head = Buffer.alloc(13);
  head.writeUInt32BE(side);
  head.writeUInt32BE(side, 4);
  head.set([8, 2], 8);
  const row = Buffer.concat([Buffer.from([0]), Buffer.alloc(side * 3, Buffer.from([r, g, b]))]);
  return Buffer.concat([Buffer.from("\x89PNG\r\n\x1a\n", "latin1"), chunk("IHDR", head), chunk("IDAT", deflateSync(Buffer.concat(Array(side).fill(row)))), chunk("IEND", Buffer.alloc(0))]);
}

const view = (page) => page.evaluate(() => {
  const v = window.groundsheet.map.getView();
  return JSON.stringify([v.getCenter(), v.getZoom()]);
});
const text = (page, id) => page.locator(`#${id}`).innerText();

/** How much of the middle of the map has the color of the second picture. */
async function share(page) {
  const { width, height, data } = await mapShot(page);
  let same = 0;
  let all = 0;
  for (let y = height / 4 | 0; y < height / 2; y++) {
    for (let x = width / 4 | 0; x < width * 3 / 4; x++) {
      const at = (y * width + x) * (data.length / (width * height));
      all++;
      if (color.every((c, k) => Math.abs(data[at + k] - c) < 6)) same++;
    }
  }
  return same / all;
}

/** Runs all checks of this file against a server with one pack that has records. */
export async function severalPicturesChecks(site, shots) {
  const { packs: [own] } = await (await fetch(new URL("/packs.json", site))).json();
  const about = await (await fetch(new URL(own.about, site))).json();
  const tilejson = await (await fetch(new URL(about.tilejson, site))).json();
  const other = { ...own, id: "leaf-off", about: "/packs/leaf-off/about.json", source: "Leaf-off flight", records: 0, version: "v9" };
  const { browser, page } = await openPage(phone);
  let out = false;
  await page.route((url) => url.pathname === "/packs.json", (r) => r.fulfill({ json: { packs: [other, own] } }));
  await page.route((url) => url.pathname.startsWith("/packs/leaf-off/"), (r) => {
    const { pathname } = new URL(r.request().url());
    if (out) return r.abort();
    if (pathname.endsWith("about.json")) {
      return r.fulfill({ json: { ...about, id: other.id, tilejson: "/packs/leaf-off/tilejson.json", source: { name: other.source, attribution: "County flight", captured: "2019-03-02" } } });
    }
    if (pathname.endsWith("tilejson.json")) return r.fulfill({ json: { ...tilejson, tiles: ["/packs/leaf-off/tiles/{z}/{x}/{y}.png?v=v9"] } });
    return r.fulfill({ contentType: "image/png", body: flatPNG(256, color) });
  });
  const radio = (id) => page.locator(`input[name="picture"][value="${id}"]`);
  const choose = async (id) => {
    if (!(await radio(id).isVisible())) await page.click("#show-layers");
    await radio(id).check();
    await page.waitForFunction((v) => document.querySelector(`input[name="picture"][value="${v}"]`)?.checked, id);
  };
  await check("packs of one job: the one with records opens without asking", async () => {
    await page.goto(site.href);
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    want(new URL(page.url()).hash === "" || page.url().includes(own.id), page.url());
    want((await share(page)) < 0.01, "it shows the other picture");
  });
  await check("another picture of the place: view, records and the focus stay, its date is told", async () => {
    await page.evaluate(() => window.groundsheet.map.getView().adjustZoom(1.3));
    await settled(page);
    const [at, layers] = [await view(page), await page.evaluate(() => window.groundsheet.map.getLayers().getLength())];
    await page.click("#show-layers");
    const boxes = await page.locator("#sheet-body input[data-overlay]").count();
    want(boxes > 0, "no records to compare");
    await page.screenshot({ path: join(shots, "pictures-choice.png") });
    await choose(other.id);
    await page.waitForFunction(() => document.getElementById("captured").textContent.includes("2019"));
    await settled(page);
    want(await page.evaluate(() => document.activeElement?.value) === other.id, "the focus was lost");
    want((await text(page, "attribution")).includes("County flight"), "the credit is not the picture's");
    want((await page.locator("#sheet-body dl").innerText()).includes("Leaf-off flight"), "the facts are not the picture's");
    want(await page.locator("#sheet-body input[data-overlay]").count() === boxes, "records went");
    await page.click("#sheet-close");
    await settled(page);
    want((await view(page)) === at, `the view moved: ${at}, ${await view(page)}`);
    want(await page.evaluate(() => window.groundsheet.map.getLayers().getLength()) === layers, "layers came or went");
    want((await share(page)) > 0.4, `only ${await share(page)} of it is the other picture`);
    await page.screenshot({ path: join(shots, "pictures-other.png") });
  });
  await check("another picture of the place: ties that were measured and the position stay", async () => {
    await choose(own.id);
    await page.click("#sheet-close");
    const [x, y] = await page.evaluate(() => window.groundsheet.map.getView().getCenter());
    const at = [x / 6378137 * 180 / Math.PI, (2 * Math.atan(Math.exp(y / 6378137)) - Math.PI / 2) * 180 / Math.PI];
    await browser.context.grantPermissions(["geolocation"]);
    await browser.context.setGeolocation({ longitude: at[0], latitude: at[1], accuracy: 8 });
    await page.click("#position-open");
    await page.locator('.whose input[value="phone"]').check();
    await page.click("#sheet-close");
    await page.waitForFunction(() => /This phone's own/.test(document.getElementById("position-open").innerText));
    await page.click("#show-tools");
    await page.locator("#sheet-body button b", { hasText: /^Ties$/ }).click();
    await page.locator("#sheet-body button", { hasText: "Choose target" }).click();
    for (const east of [0, 12, -20]) { // the target and two ties
      await page.evaluate((m) => {
        const v = window.groundsheet.map.getView();
        const [x, y] = v.getCenter();
        v.setCenter([x + m, y + m / 2]);
      }, east);
      await settled(page);
      await page.click("#pick-take");
      await page.waitForTimeout(200);
    }
    if (await page.locator("#pick").isVisible()) await page.click("#pick-done");
    if (await page.locator("#sheet-close").isVisible()) await page.click("#sheet-close");
    await settled(page);
    const told = () => page.evaluate(() => JSON.stringify(window.groundsheet.map.getAllLayers().flatMap((l) => l.getSource()?.getFeatures?.() ?? [])
      .filter((one) => one.get("kind") === "tape").map((one) => one.getGeometry().getCoordinates())));
    const mark = () => page.locator("#mark").boundingBox();
    const [length, place] = [await told(), await mark()];
    want(length !== "[]" && place !== null, `nothing to compare: ${length}, ${JSON.stringify(place)}`);
    await choose(other.id);
    await page.waitForFunction(() => document.getElementById("captured").textContent.includes("2019"));
    await page.click("#sheet-close");
    await settled(page);
    want(await told() === length, `${await told()}, it was ${length}`);
    const now = await mark();
    want(now !== null && Math.hypot(now.x - place.x, now.y - place.y) < 2, `the position is at ${JSON.stringify(now)}, it was at ${JSON.stringify(place)}`);
  });
  await check("back to the job's own picture", async () => {
    await choose(own.id);
    await page.waitForFunction(() => !document.getElementById("captured").textContent.includes("2019"));
    await page.click("#sheet-close");
    await settled(page);
    want((await share(page)) < 0.01, "the other picture is still there");
  });
  await check("a picture that cannot be loaded: said, and the choice is what is shown", async () => {
    await page.goto("about:blank");
    await page.goto(site.href);
    await page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });
    out = true;
    await page.click("#show-layers");
    await radio(other.id).click();
    await page.locator("#errorbar").waitFor({ timeout: 10_000 });
    want(await radio(own.id).isChecked(), "the choice is not what is shown");
  });
  await browser.close();
}
