// Proves joining in a real browser, against field servers that it starts itself:
//   node test/join.mjs --program bin/groundsheet --pack FILE.mbtiles --shots DIR
// It needs certutil (Debian: libnss3-tools) to let the browser trust a certificate.
import { mkdir, mkdtemp, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { openBrowser } from "./chromium.mjs";
import { startServer } from "./fieldserver.mjs";
import { check, tally, want } from "./harness.mjs";
import { violations } from "./tools.mjs";
import { trustingHome } from "./trust.mjs";

const { values } = parseArgs({ options: { program: { type: "string" }, pack: { type: "string" }, shots: { type: "string" } } });
if (!values.program || !values.pack || !values.shots) {
  console.error("use: node test/join.mjs --program bin/groundsheet --pack FILE.mbtiles --shots DIR");
  process.exit(2);
}

const phone = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 2, hasTouch: true };
const axe = await readFile(new URL("../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** Photographs a page, and has axe-core look at it. */
async function shot(page, name) {
  await page.screenshot({ path: join(values.shots, `join-${name}.png`) });
  const found = await violations(page, axe);
  want(found.length === 0, `axe-core, ${name}: ${found.join(" | ")}`);
}

const ready = (page) => page.locator('body[data-state="ready"]').waitFor({ timeout: 20_000 });

/** A new phone: an empty browser. What it asked for is kept. */
async function newPhone(options = {}, more = []) {
  const browser = await openBrowser({ ...phone, ...options }, more);
  const page = await browser.context.newPage();
  const asked = [];
  page.on("request", (r) => asked.push({ url: r.url(), referer: r.headers().referer ?? "" }));
  return { browser, page, asked };
}

async function type(page, code) {
  await page.fill("#code", code);
  await page.click("#go");
}

async function byHand(server) {
  const { browser, page, asked } = await newPhone();
  await page.goto(server.at);
  await check("a phone without a session sees the join page, and only that", async () => {
    want((await page.title()) === "Join this map", await page.title());
    const paths = asked.map((a) => new URL(a.url).pathname);
    want(paths.every((p) => ["/", "/join.css", "/guard.js", "/join.js", "/icon.svg", "/session"].includes(p)), paths.join(" "));
  });
  await check("axe-core finds nothing on the join page", () => shot(page, "phone"));
  await check("the field is large, named and has the number pad; nothing is too wide", async () => {
    const field = page.getByLabel("Join code");
    const box = await field.boundingBox();
    want(box.height >= 64 && box.width > 300, JSON.stringify(box));
    want((await field.getAttribute("inputmode")) === "numeric", "no number pad");
    want(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "too wide");
    want((await page.locator("#go").boundingBox()).height >= 56, "the button is small");
  });
  await check("nothing typed, and a wrong code, are told in words that are read aloud", async () => {
    await page.click("#go");
    await page.getByRole("alert").filter({ hasText: "Type the join code first" }).waitFor();
    await type(page, "000 000 0000");
    await page.getByRole("alert").filter({ hasText: "not the code for this map" }).waitFor();
    want(await page.evaluate(() => document.activeElement.id === "code"), "the field lost the focus");
    await shot(page, "wrong");
  });
  await check("the sixth wrong code waits, and the page counts down", async () => {
    for (let i = 1; i <= 5; i++) {
      await page.getByRole("alert").evaluate((e) => (e.textContent = ""));
      await type(page, `000 000 000${i}`);
      await page.getByRole("alert").filter({ hasText: /\S/ }).waitFor();
    }
    await page.getByRole("alert").filter({ hasText: "Too many wrong codes" }).waitFor();
    want((await page.locator("#go").getAttribute("aria-disabled")) === "true", "the button does not wait");
    await shot(page, "waits");
    await page.locator('#go:not([aria-disabled])').waitFor({ timeout: 20_000 });
  });
  await check("after the wait the right code opens the map, with the keyboard alone", async () => {
    await page.focus("#code");
    await page.keyboard.press("ControlOrMeta+a");
    await page.keyboard.type(server.code);
    await page.keyboard.press("Enter");
    await ready(page);
    want(new URL(page.url()).pathname === "/", page.url());
  });
  await check("reloading, and a second page, stay in", async () => {
    await page.reload();
    await ready(page);
    const second = await browser.context.newPage();
    await second.goto(server.at);
    await ready(second);
    await second.close();
  });
  await check("the session is out of reach of scripts", async () => {
    want((await page.evaluate(() => document.cookie)) === "", "a script reads the cookie");
  });
  await leaving(page, server);
  await browser.close();
}

async function leaving(page, server) {
  await check("a phone that is in can leave", async () => {
    await page.goto(`${server.at}/join`);
    await page.getByText("You're connected").waitFor();
    await shot(page, "in");
    await page.click("#leave");
    await page.getByRole("alert").filter({ hasText: "This phone is disconnected" }).waitFor();
    await page.goto(server.at);
    want((await page.title()) === "Join this map", await page.title());
  });
}

async function byLink(server) {
  const { browser, page, asked } = await newPhone({ colorScheme: "dark", serviceWorkers: "block" });
  const bare = server.code.replaceAll(" ", "");
  await check("the link opens the map, and its code is in no request, address or history", async () => {
    await page.goto("about:blank");
    await page.goto(server.link);
    await ready(page);
    const bad = asked.filter((a) => new URL(a.url).pathname !== "/join" && a.url.includes(bare) || a.referer !== "");
    want(bad.length === 0, JSON.stringify(bad));
    want(!page.url().includes(bare), page.url());
    await page.goBack();
    want(!page.url().includes(bare), `one back: ${page.url()}`);
  });
  await check("a link with a wrong code says so and takes the right one", async () => {
    await page.context().clearCookies();
    await page.goto("about:blank");
    await page.goto(`${server.at}/join#9999999999`);
    await page.getByRole("alert").filter({ hasText: "not the code" }).waitFor();
    await shot(page, "night");
    await type(page, server.code);
    await ready(page);
  });
  await check("a page that was kept while its session ended leads to joining again", async () => {
    const kept = {};
    for (const path of ["/", "/app.js", "/shared.js", "/app.css"]) kept[path] = await (await page.request.get(server.at + path)).body();
    await page.context().clearCookies();
    const types = { "/": "text/html", "/app.js": "text/javascript", "/shared.js": "text/javascript", "/app.css": "text/css" };
    for (const path of Object.keys(kept)) {
      await page.route(server.at + path, (route) => route.fulfill({ body: kept[path], contentType: types[path] }));
    }
    await page.goto("about:blank");
    await page.goto(server.at);
    await page.waitForURL(`${server.at}/join`);
    await page.unrouteAll();
    await type(page, server.code);
    await ready(page);
  });
  await check("an old link opens the map for a phone that is in", async () => {
    await page.goto("about:blank");
    await page.goto(`${server.at}/join#9999999998`);
    await page.getByText("You're connected").waitFor();
  });
  await browser.close();
}

async function places(server) {
  const { browser, page } = await newPhone({ viewport: { width: 1440, height: 900 }, hasTouch: false, deviceScaleFactor: 1 });
  await check("a place in the address is still there after joining", async () => {
    await page.goto(server.at);
    await type(page, server.code);
    await ready(page);
    await page.locator("#zoom-in").click();
    await page.waitForFunction(() => location.hash.length > 3);
    const { hash } = new URL(page.url());
    await page.context().clearCookies();
    await page.goto("about:blank");
    await page.goto(`${server.at}/${hash}`);
    await shot(page, "desk");
    await type(page, server.code);
    await ready(page);
    want(new URL(page.url()).hash === hash, `${page.url()} instead of ${hash}`);
  });
  await check("attack, open redirect: an address that looks like another host stays here", async () => {
    for (const path of ["//evil.example/x", "/%2f%2fevil.example", "/\\evil.example", "/@evil.example"]) {
      await page.context().clearCookies();
      await page.goto(server.at + path);
      await type(page, server.code);
      await page.waitForFunction(() => document.title !== "Join this map");
      want(page.url().startsWith(server.at), page.url());
    }
  });
  await browser.close();
}

async function secure(server, plain) {
  const name = "crew-7.local";
  const resolve = [`--host-resolver-rules=MAP ${name} 127.0.0.1`];
  const named = (url) => url.replace("127.0.0.1", name);
  const home = await trustingHome(server);
  const { browser, page } = await newPhone({ env: { ...process.env, HOME: home } }, resolve);
  await check("HTTPS with the certificate trusted: the page is secure, HTTP is not", async () => {
    await page.goto(named(server.link));
    await ready(page);
    want(await page.evaluate(() => isSecureContext && location.protocol === "https:"), "not a secure page");
    want(await page.evaluate(() => "serviceWorker" in navigator && "wakeLock" in navigator), "what a secure page has is missing");
    const [cookie] = await page.context().cookies();
    want(cookie.secure && cookie.httpOnly && cookie.sameSite === "Strict" && cookie.name.startsWith("__Host-"), JSON.stringify(cookie));
    await page.goto(named(plain.link));
    await ready(page);
    want(!(await page.evaluate(() => isSecureContext)), "a page over HTTP counts as secure");
  });
  await check("the address without https:// leads to the certificate and its fingerprint", async () => {
    await page.goto(named(server.at.replace("https:", "http:")));
    want((await page.title()) === "Certificate of this map", await page.title());
    want((await page.locator("code").allInnerTexts()).join("").replace(/\s/g, "") === server.fingerprint, "another fingerprint than on the terminal");
    want(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "too wide");
    await shot(page, "certificate");
    await page.getByRole("link", { name: "Open the map" }).click();
    await ready(page);
  });
  await check("leaving takes what a secure page kept off the phone", async () => {
    // While a browser clears an origin, its storage may not answer at all: asked again then.
    const kept = () => page.evaluate(() => {
      const count = async () => {
        let n = (await navigator.serviceWorker.getRegistrations()).length;
        for (const name of await caches.keys()) n += (await (await caches.open(name)).keys()).length;
        return n;
      };
      return Promise.race([count(), new Promise((done) => setTimeout(done, 2000, NaN))]);
    });
    for (let i = 0; i < 100 && !((await kept()) >= 5); i++) await page.waitForTimeout(100);
    want((await kept()) >= 5, "the page keeps nothing: this check shows nothing");
    await page.goto(`${named(server.at)}/join`);
    await page.click("#leave");
    await page.getByRole("alert").filter({ hasText: "what it kept of the map is deleted" }).waitFor();
    for (let i = 0; i < 100 && (await kept()) !== 0; i++) await page.waitForTimeout(100);
    want((await kept()) === 0, `${await kept()} things are left`);
    await page.goto(named(server.at));
    want((await page.title()) === "Join this map", await page.title());
  });
  await browser.close();
  await rm(home, { recursive: true });
  await check("a browser that does not trust the certificate does not open the page", async () => {
    const stranger = await newPhone({}, resolve);
    const failed = await stranger.page.goto(named(server.at)).then(() => "it opened", (e) => e.message);
    await stranger.browser.close();
    want(failed.includes("ERR_CERT_AUTHORITY_INVALID"), failed);
  });
}

await mkdir(values.shots, { recursive: true });
const config = await mkdtemp(join(tmpdir(), "groundsheet-config-"));
const servers = [];
try {
  for (const more of [[], ["--https"]]) servers.push(await startServer(values.program, values.pack, config, "--name", "crew-7", ...more));
  const [plain, https] = servers;
  want(plain.code === https.code && plain.code !== "", "two servers of one machine have two codes");
  await places(plain);
  await byLink(plain);
  await secure(https, plain);
  await byHand(plain); // last: it is wrong too often
} catch (e) {
  tally.failed++;
  console.log(`FAIL ${e.message}`);
}
for (const s of servers) await s.stop();
await rm(config, { recursive: true });
console.log(`${tally.passed} passed, ${tally.failed} failed`);
process.exit(tally.failed === 0 ? 0 : 1);
