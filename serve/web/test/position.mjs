// Proves the dot of a position in a real browser, with a receiver that this test plays:
//   node test/position.mjs --program GROUNDSHEET --pack FILE --shots DIR
import { copyFile, mkdir, readFile, rename, rm, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, goTo, mapShot, middleOf, noticesOf, openPage, settled, tally, want } from "./harness.mjs";
import { epoch, makeGateway, makeReceiver, sentence, startServer, until } from "./receiver.mjs";

const { values } = parseArgs({ options: { program: { type: "string" }, pack: { type: "string" }, shots: { type: "string" } } });
if (!values.program || !values.pack || !values.shots) {
  console.error("use: node test/position.mjs --program GROUNDSHEET --pack FILE --shots DIR");
  process.exit(2);
}
const phone = { name: "phone", width: 390, height: 844, density: 2, touch: true };
const shot = (page, name) => page.screenshot({ path: join(values.shots, `position-${name}.png`) });

/** Degrees for metres east and north of a place. */
const offset = ([lon, lat], east, north) => [lon + east / (111_320 * Math.cos((lat * Math.PI) / 180)), lat + north / 111_132];

const bar = (page) => page.locator("#position-open").innerText().then((t) => t.replace(/\s+/g, " "));
const state = (page) => page.locator("#here").getAttribute("data-state");
const says = (page, words) => until(`“${words}” on the bar`, async () => (await bar(page)).match(words) !== null)
  .catch(async (e) => { throw new Error(`${e.message}; it says “${await bar(page)}”`); });

const showDot = (page, on) => page.evaluate((v) => {
  document.getElementById("mark").style.visibility = v ? "" : "hidden";
}, on).then(() => settled(page));

/** What the mark draws, as a box of pixels round the middle of the map. */
async function drawn(page) {
  await settled(page);
  const on = await mapShot(page);
  await showDot(page, false);
  const off = await mapShot(page);
  await showDot(page, true);
  const box = { left: on.width, right: 0, top: on.height, bottom: 0, n: 0 };
  for (let y = Math.round(on.height * 0.2); y < on.height * 0.9; y++) {
    for (let x = 0; x < on.width; x++) {
      const i = (y * on.width + x) * 4;
      if (Math.abs(on.data[i] - off.data[i]) + Math.abs(on.data[i + 1] - off.data[i + 1]) + Math.abs(on.data[i + 2] - off.data[i + 2]) < 24) continue;
      box.left = Math.min(box.left, x);
      box.right = Math.max(box.right, x);
      box.top = Math.min(box.top, y);
      box.bottom = Math.max(box.bottom, y);
      box.n++;
    }
  }
  const [x, y] = (await middleOf(page)).map((v) => Math.round(v * phone.density));
  return { ...box, width: box.right - box.left + 1, height: box.bottom - box.top + 1, middle: on.data[(y * on.width + x) * 4] };
}

const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 30_000 });

/** A receiver that says the same once a second, until it is told otherwise. */
function talker(receiver) {
  let words = () => "";
  const timer = setInterval(() => receiver.send(words()), 1000);
  return {
    say(f) {
      words = f;
      receiver.send(f());
    },
    hush() { words = () => ""; },
    end: () => clearInterval(timer),
  };
}

async function dotAndCircle(page, at, talk) {
  await check("a settled fix: its kind, its error at 95 % rounded up and its age are said", async () => {
    talk.say(() => epoch(at, { sigma: 0.014 }));
    await says(page, /RTK fixed within 1\.6 in \(95 %\) · (now|\d s ago)/);
    await goTo(page, at, 20);
    await shot(page, "fixed");
    const dot = await drawn(page);
    want(dot.middle > 200, `no bull’s eye: ${dot.middle}`);
    want(dot.width > 80 && dot.width < 106, `a dot of ${dot.width} pixels`); // two of them to each of the page's; the arms reach 21 and a stroke
  });
  await check("the circle is as wide as its metres on the ground", async () => {
    talk.say(() => epoch(at, { quality: 5, sigma: 2 }));
    await says(page, /RTK float, not settled within 19 ft \(95 %\)/);
    await goTo(page, at, 20);
    const dot = await drawn(page);
    await shot(page, "float");
    const metres = 2 * Math.SQRT2 * 1.95996; // 5.544 m
    // WGS 84: metres of a pixel are those of the projection, times the ellipsoid's own radii over the projection's
    const lat = (at[1] * Math.PI) / 180;
    const pixel = (156543.03392804097 / 2 ** 20) * Math.cos(lat) / phone.density;
    const w = Math.sqrt(1 - 0.00669437999 * Math.sin(lat) ** 2);
    const [wide, high] = [2 * metres / pixel * w, 2 * metres / pixel * (w ** 3 / (1 - 0.00669437999))];
    const edge = 5 * phone.density; // half a stroke on either side
    want(Math.abs(dot.width - edge - wide) < 4 && Math.abs(dot.height - edge - high) < 4,
      `${dot.width} × ${dot.height} pixels, of them ${edge} of edge; want ${wide.toFixed(1)} × ${high.toFixed(1)}`);
    want(dot.middle < 60, "a float with the bull’s eye of a settled fix");
  });
  await check("an error from the geometry of the satellites is called estimated, and its edge is broken", async () => {
    talk.say(() => epoch(at, { quality: 1, hdop: 0.5 }));
    await says(page, /Satellites without corrections within about 25 ft \(95 %, estimated\)/);
    await goTo(page, at, 19);
    await shot(page, "estimated");
  });
  await check("no error told: no circle, and it is said", async () => {
    talk.say(() => epoch(at, { quality: 5 }));
    await says(page, /RTK float, not settled error not stated/);
    want((await drawn(page)).width < 106, "there is a circle");
  });
}

/** What is late, or has old corrections, or states what cannot be, is said on the bar itself. */
async function doubtful(page, at, talk) {
  for (const [name, words, how] of [
    ["late", /RTK fixed time 2 h behind · within 1\.6 in \(95 %\) · frame not stated/, () => ({ sigma: 0.014, time: new Date(Date.now() - 7_230_000) })],
    ["early", /RTK fixed time 5 min ahead · within 1\.6 in/, () => ({ sigma: 0.014, time: new Date(Date.now() + 330_000) })],
    ["old-corrections", /RTK fixed corrections 55 s old · error not stated · frame not stated/, () => ({ sigma: 0.014, corrections: "55.0" })],
  ]) {
    await check(`${name}: the bar says so, and never “now”`, async () => {
      talk.say(() => epoch(at, how()));
      await says(page, words);
      want(await state(page) === "doubt", `the bar is ${await state(page)}`);
      want(!/\bnow\b/.test(await bar(page)), await bar(page));
      const dot = await drawn(page);
      want(dot.middle < 200, "the bull’s eye of a settled fix");
      await shot(page, name);
      await page.click("#position-open");
      await shot(page, `${name}-sheet`);
      await page.click("#sheet-close");
    });
  }
  await check("a stated error that codes cannot have is no circle", async () => {
    talk.say(() => epoch(at, { quality: 1, sigma: 0.003 }));
    await says(page, /Satellites without corrections stated error implausible for this kind of fix/);
    want((await drawn(page)).width < 106, "there is a circle");
    await shot(page, "implausible");
  });
}

async function notLive(page, at, talk) {
  for (const [quality, head, mark] of [[8, "made up by a simulator", "SIMULATED"], [7, "typed in by hand", "BY HAND"], [6, "dead reckoning", "DEAD RECKONING"]]) {
    await check(`${mark}: a lozenge with its name, and the bar says that it is not live`, async () => {
      talk.say(() => epoch(at, { quality }));
      await says(page, new RegExp(`Not live: ${head}`));
      want(await state(page) === "not-live", `the bar is ${await state(page)}`);
      const dot = await drawn(page);
      want(dot.height > 60, `no name beside it: ${dot.height} pixels high`);
      await shot(page, mark.toLowerCase().replace(" ", "-"));
    });
  }
}

async function growsOld(page, at, talk) {
  await check("no fix: it is said, and the last dot fades", async () => {
    talk.say(() => epoch(at, { sigma: 1 }));
    await says(page, /RTK fixed within/);
    talk.say(() => sentence("GNRMC,101530.00,V,,,,,,,251126,,,N,V"));
    await says(page, /The receiver reports no position/);
    want(await state(page) === "fading", `the bar is ${await state(page)}`);
  });
  await check("after 5 s the dot is faded, after 30 s hollow, without a circle and with its age", async () => {
    talk.say(() => epoch(at, { sigma: 3 }));
    await says(page, /RTK fixed within 28 ft/);
    await goTo(page, at, 20);
    const fresh = await drawn(page);
    talk.hush();
    await until("faded", async () => (await state(page)) === "fading");
    const faded = await drawn(page);
    want(/^\d+ s ago: RTK fixed/.test(await bar(page)), await bar(page));
    want(Math.abs(faded.width - fresh.width) < 8, `middle ${faded.middle}, ${faded.width} pixels wide, before ${fresh.width}`);
    await shot(page, "faded");
    await until("old", async () => (await state(page)) === "old", 45_000);
    want(/Last position: \d+ s ago\. .*hollow mark is the last one/.test(await bar(page)), await bar(page));
    const old = await drawn(page);
    want(old.width < faded.width / 1.5, `${old.width} pixels wide, ${faded.width} before: the circle is still there`);
    await shot(page, "old");
  });
}

async function followsAndBack(page, at, talk) {
  const middle = () => page.evaluate(() => {
    const [x, y] = window.groundsheet.map.getView().getCenter();
    return [(x / 6378137) * 180 / Math.PI, (2 * Math.atan(Math.exp(y / 6378137)) - Math.PI / 2) * 180 / Math.PI];
  });
  const near = async (place, metres) => {
    const [lon, lat] = await middle();
    return Math.hypot((lon - place[0]) * 111_320 * Math.cos(lat * Math.PI / 180), (lat - place[1]) * 111_132) < metres;
  };
  await check("following: the map goes along, until somebody moves it", async () => {
    talk.say(() => epoch(at, { sigma: 0.02 }));
    await says(page, /RTK fixed/);
    await goTo(page, offset(at, 20, 5), 20);
    await page.click("#position-follow");
    await until("the dot in the middle", () => near(at, 0.5));
    const moved = offset(at, 12, 8);
    talk.say(() => epoch(moved, { sigma: 0.02 }));
    await until("the map beside it", () => near(moved, 0.5));
    want(await page.locator("#position-follow").getAttribute("aria-pressed") === "true", "not pressed");
    await page.mouse.move(200, 400);
    await page.mouse.down();
    await page.mouse.move(120, 330, { steps: 5 });
    await page.mouse.up();
    await until("following to end", async () => (await page.locator("#position-follow").getAttribute("aria-pressed")) === "false");
    await new Promise((done) => setTimeout(done, 2500));
    want(!(await near(moved, 2)), "the map went back by itself");
  });
  await check("off the job: an arrow and the distance back, in the job’s units", async () => {
    talk.say(() => epoch(offset(at, -2000, -2000), { sigma: 0.02 }));
    await page.locator("#position-back").waitFor({ timeout: 10_000 });
    await page.click("#whole-job");
    await settled(page);
    const text = await page.locator("#position-back").innerText();
    const [, miles] = /^You are off the job\. The job is about ([\d.]+) mi northeast/.exec(text) ?? [];
    want(Number(miles) > 1.6 && Number(miles) < 1.8, `“${text}”`); // 2828 m to the place, less to the edge
    talk.say(() => epoch(offset(at, -2000, -2000), { sigma: 2000 }));
    await until("the doubt", async () => /^You may be off the job/.test(await page.locator("#position-back").innerText()));
    const turn = await page.locator("#position-back svg").evaluate((e) => e.style.transform);
    want(/rotate\((4[0-9]|5[0-2])deg\)/.test(turn), turn);
    await shot(page, "off-ground");
    talk.say(() => epoch(at, { sigma: 0.02 }));
    await until("the arrow to go", async () => !(await page.locator("#position-back").isVisible()));
  });
}

async function sheet(page) {
  await check("the sheet tells whose position it is and all that is known of it", async () => {
    await page.click("#position-open");
    const text = (await page.locator("#sheet-body").innerText()).replace(/\s+/g, " ");
    for (const words of ["Do not mark or dig by it", "The receiver on the laptop", "where its antenna is", "The receiver's own estimate", "Satellites 14 in use", "HDOP 0.8", "Latitude", "When", "in the frame of its base: not stated", "day not stated"]) {
      want(text.includes(words), `no “${words}” in “${text}”`);
    }
    await shot(page, "sheet");
    const small = await page.evaluate(() => [...document.querySelectorAll("#here button, .whose label")].filter((b) => b.getBoundingClientRect().height < 44).map((b) => b.textContent));
    want(small.length === 0, `lower than 44 pixels: ${small.join(", ")}`);
    await page.click("#sheet-close");
  });
}

/** By day, by night and in the sun: nothing that axe-core finds, with the bar, the way back and the sheet. */
async function looks(gateway, at, talk) {
  const axe = await readFile(new URL("../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
  talk.say(() => epoch(offset(at, -2000, -2000), { quality: 5, sigma: 0.3 }));
  for (const look of ["day", "night", "sun"]) {
    const { browser, page } = await openPage(phone);
    await page.addInitScript((l) => localStorage.setItem("groundsheet look", l), look);
    await page.goto(gateway.href);
    await ready(page);
    await says(page, /RTK float/);
    await page.click("#position-open");
    await check(`${look}: axe-core finds nothing in the bar, the way back and the sheet`, async () => {
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => globalThis.axe.run(document));
      want(violations.length === 0, violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).join(", ")}`).join(" | "));
      await shot(page, `look-${look}`);
    });
    await browser.close();
  }
}

/** The browser's own position: given, refused, and not to be had on a page that is not secure. */
async function ownPosition(gateway, at, given) {
  const screen = { ...phone, name: "own" };
  const { browser, page, complaints } = await openPage(screen);
  if (given) {
    await browser.context.grantPermissions(["geolocation"]);
    await browser.context.setGeolocation({ longitude: at[0], latitude: at[1], accuracy: 8 });
  }
  await page.goto(gateway.href);
  await ready(page);
  const choose = async (value) => {
    await page.click("#position-open");
    await page.locator(`.whose input[value="${value}"]`).check();
    await page.click("#sheet-close");
  };
  await choose("phone");
  if (given) {
    await check("this phone’s own position, with the 95 % it states", async () => {
      await says(page, /This phone's own within 27 ft \(95 %\)/); // 8 m are 26.2 ft
      await goTo(page, at, 20);
      await shot(page, "phone");
      await page.reload();
      await ready(page);
      await says(page, /This phone's own/);
      await choose("off");
      await says(page, /^Position$/);
      await until("the dot that was put off is gone", async () => (await drawn(page)).n === 0); // the records that stood clear of it move, too
    });
  } else {
    await check("a phone that refuses its position says so", () => says(page, /No position\. This device does not share its position/));
  }
  want(complaints.length === 0, complaints.join(" | "));
  await browser.close();
}

async function notSecure(gateway) {
  const { browser, page } = await openPage(phone);
  await page.addInitScript(() => Object.defineProperty(window, "isSecureContext", { value: false }));
  await page.goto(gateway.href);
  await ready(page);
  await check("over plain http the page says why this phone’s own position cannot be had", async () => {
    await page.click("#position-open");
    want(await page.locator('.whose input[value="phone"]').isDisabled(), "it can be chosen");
    const text = await page.locator(".whose").innerText();
    want(text.includes("secure page (https)") && text.includes("plain http"), text);
    await shot(page, "not-secure");
  });
  await browser.close();
}

/** A recording of an RTK walk is marked on the map and in words, and ends. */
async function recording(at) {
  const walk = join(values.shots, "position-walk.nmea");
  const start = Date.now();
  await writeFile(walk, Array.from({ length: 12 }, (_, i) => epoch(offset(at, i / 2, i), { sigma: 0.02, time: new Date(start + 1000 * i) })).join(""));
  const played = await startServer(values.program, values.pack, `file:${walk}`);
  const { browser, page } = await openPage(phone);
  await page.goto(`http://127.0.0.1:${played.port}/`);
  await ready(page);
  await check("a recording is a lozenge marked RECORDED, and never live", async () => {
    await says(page, /RECORDED · RTK fixed/);
    want(await state(page) === "not-live", `the bar is ${await state(page)}`);
    await shot(page, "recorded");
    await says(page, /The recording has ended/);
  });
  await browser.close();
  played.stop();
}

/** The laptop says by itself that it serves another pack: the page does not wait until it asks. */
async function exchanged() {
  const [pack, next] = ["served", "next"].map((n) => join(values.shots, `${n}.mbtiles`));
  await copyFile(values.pack, pack);
  const server = await startServer(values.program, pack, "udp:127.0.0.1:0");
  const { browser, page } = await openPage(phone);
  await page.goto(`http://127.0.0.1:${server.port}/`);
  await ready(page);
  await check("a pack put in the place of the open one is offered within seconds", async () => {
    await page.waitForTimeout(1500); // what the page asks at its start is over
    want(!(await noticesOf(page)).all.includes("pack"), "it is offered at once");
    await copyFile(values.pack, next);
    await rename(next, pack);
    await page.locator("#status", { hasText: "another pack" }).waitFor({ timeout: 20_000 });
    want((await noticesOf(page)).text === "Show the new one", JSON.stringify(await noticesOf(page)));
  });
  await browser.close();
  server.stop();
  await rm(pack);
}

/** However many tabs, one stream; and it comes back after the laptop was out of reach. */
async function tabs(gateway, at, talk, without) {
  const how = without.length === 0 ? "a shared worker" : `no ${without.join(" and no ")}`;
  const { browser, page } = await openPage(phone);
  await browser.context.addInitScript((names) => names.forEach((n) => { delete window[n]; }), without);
  talk.say(() => epoch(at, { sigma: 0.02 }));
  await page.goto(gateway.href);
  await ready(page);
  await says(page, /RTK fixed/);
  const second = await browser.context.newPage();
  await second.goto(gateway.href);
  await ready(second);
  const plain = without.length === 2;
  await check(`${how}: two tabs, ${plain ? "two streams" : "one stream"} at the laptop`, async () => {
    await says(second, /RTK fixed within/);
    await until("the streams", () => gateway.streams() === (plain ? 2 : 1));
    await new Promise((done) => setTimeout(done, 2000));
    want(gateway.streams() === (plain ? 2 : 1), `${gateway.streams()} streams`);
  });
  await check(`${how}: the other tab goes on when the first is closed`, async () => {
    await page.close();
    talk.say(() => epoch(at, { quality: 5, sigma: 0.02 }));
    await says(second, /RTK float, not settled within .* (now|[0-4] s ago)/);
    await until("one stream", () => gateway.streams() === 1);
  });
  await check(`${how}: out of reach is said, and the stream comes back`, async () => {
    gateway.cut(true);
    await says(second, /cannot reach the laptop/);
    gateway.cut(false);
    await says(second, /RTK float, not settled within/);
  });
  await browser.close();
  await check(`${how}: no stream is left`, () => until("none", () => gateway.streams() === 0));
}

await mkdir(values.shots, { recursive: true });
const receiver = await makeReceiver();
const server = await startServer(values.program, values.pack, `tcp:127.0.0.1:${receiver.port}`);
const gateway = await makeGateway(server.port);
const talk = talker(receiver);
try {
  const { packs } = await (await fetch(`${gateway.href}packs.json`)).json();
  const about = await (await fetch(new URL(packs[0].about, gateway.href))).json();
  const { features } = await (await fetch(new URL(about.area, gateway.href))).json();
  const all = features[0].geometry.coordinates.flat(Infinity);
  const mean = (k) => all.filter((_, i) => i % 2 === k).reduce((s, v, _, { length }) => s + v / length, 0);
  const at = [mean(0), mean(1)];
  await receiver.connected();
  const { browser, page, complaints, strangers } = await openPage(phone);
  await page.goto(gateway.href);
  await ready(page);
  await dotAndCircle(page, at, talk);
  await doubtful(page, at, talk);
  await notLive(page, at, talk);
  await followsAndBack(page, at, talk);
  await sheet(page);
  await growsOld(page, at, talk);
  await check("position: no complaint in the console, nothing asked of another host", () => want(complaints.length + strangers.length === 0, [...complaints, ...strangers].join(" | ")));
  await browser.close();
  await tabs(gateway, at, talk, []);
  await tabs(gateway, at, talk, ["SharedWorker"]);
  await tabs(gateway, at, talk, ["SharedWorker", "BroadcastChannel"]);
  await looks(gateway, at, talk);
  await ownPosition(gateway, at, true);
  await ownPosition(gateway, at, false);
  await notSecure(gateway);
  await recording(at);
  await exchanged();
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.stack}`);
}
talk.end();
receiver.close();
gateway.close();
server.stop();
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
