// What the checks of recording share: a field server with a code to mark and one to look, phones in any engine, and what a person
// presses. Each script starts servers and browsers of its own:
//   node --experimental-websocket test/marking/NAME.mjs --program bin/groundsheet --pack FILE --shots DIR [--engine NAME…]
import { copyFile, mkdir, mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { laptop, openHotspot } from "../engines/hotspot.mjs";
import { missing, names, open } from "../engines/index.mjs";
import { mapPage } from "../engines/mappage.mjs";
import { within } from "../engines/process.mjs";
import { startServer } from "../fieldserver.mjs";

export { want } from "../harness.mjs";

const { values } = parseArgs({ options: {
  program: { type: "string" }, pack: { type: "string" }, shots: { type: "string" }, engine: { type: "string", multiple: true },
} });
if (!values.program || !values.pack || !values.shots) {
  console.error("use: node --experimental-websocket test/marking/NAME.mjs --program bin/groundsheet --pack FILE --shots DIR [--engine NAME…]");
  process.exit(2);
}

export const codes = { mark: "larkwatermark", look: "larkwaterlooks" };
const longest = 110_000; // on a machine with other work; else under a minute

/** A field server in a folder of its own, by the name that phones use. `stop` and `start` again keep the folder and the port. */
async function laptopIn(folder, more) {
  const pack = join(folder, "site.mbtiles");
  await copyFile(values.pack, pack);
  const args = ["--name", laptop.replace(".local", ""), "--join-code", codes.look, "--mark-code", codes.mark, ...more];
  let server = await startServer(values.program, [pack], join(folder, "config"), ...args);
  const port = new URL(server.at).port;
  const field = {
    folder, port,
    at: `http://${laptop}:${port}`,
    own: `http://127.0.0.1:${port}`,
    stop: () => server.stop(),
    async start() { server = await startServer(values.program, [pack], join(folder, "config"), ...args, "--listen", `127.0.0.1:${port}`); },
    /** What the server answers to somebody with a code. */
    ask: (path, code, init = {}) => fetch(field.own + path, { ...init, headers: { Authorization: `Basic ${Buffer.from(`x:${code}`).toString("base64")}`, ...init.headers } }),
    /** The address of the book. */
    async bookAt() {
      const { packs } = await (await field.ask("/packs.json", codes.look)).json();
      return `/packs/${packs[0].id}/book`;
    },
    /** The entries of the book, as they were sent. */
    async book() {
      const [all, at] = [[], await field.bookAt()];
      for (;;) {
        const { entries, latest } = await (await field.ask(`${at}/entries?after=${all.length}`, codes.look)).json();
        all.push(...entries.map((e) => ({ ...JSON.parse(e.text), number: e.number })));
        if (all.length >= latest) return all;
      }
    },
  };
  return field;
}

/** A phone: a browser that has joined with a code, and what a person does on it. */
async function phoneOf(name, hotspot, field, code, options) {
  const browser = await open(name, { proxy: hotspot.proxy, ...options });
  const page = mapPage(browser);
  const phone = {
    ...page, browser, page,
    /** Joins and waits for the map, and for the button of those who mark. */
    async join() {
      await browser.goto(`${field.at}/join#${code}`);
      await page.ready();
      if (code === codes.mark) await phone.until("the button to mark", () => document.querySelector("#mark-open:not([hidden])") !== null);
    },
    async openAgain() {
      await browser.goto("about:blank");
      await browser.goto(field.at);
      await page.ready();
    },
    /** Opens the pad; the first time the name is set without asking. */
    async pad(who = "Ada") {
      await browser.ev((w) => localStorage.setItem("groundsheet marks-by", w), who);
      await page.press("#mark-open");
      await phone.until("the pad", () => document.querySelector("#pad:not([hidden])") !== null);
      if (/Utility/.test(await page.text("#pad-utility"))) await phone.choose("utility", "water");
    },
    /** Presses a small button of the pad, and one of the choices. */
    async choose(chip, what) {
      await page.press(`#pad-${chip}`);
      await page.press(".mark-choices button", what);
      await phone.until("the pad again", () => document.querySelector(".mark-choices") === null);
    },
    key: (k) => page.press(`#pad [data-key="${k}"]`),
    async depth(keys) { for (const k of keys) await phone.key(k); },
    async keep() {
      // Two marks may be told in the same words, so changes count.
      await browser.ev(() => {
        window.toldAnew = 0;
        window.toldWatch ??= new MutationObserver(() => window.toldAnew++);
        window.toldWatch.observe(document.querySelector(".pad-told"), { subtree: true, childList: true, characterData: true });
      });
      // A press right after a mark was kept counts for nothing, and a crew presses again.
      const begun = () => browser.ev(() => window.toldAnew > 0);
      for (let presses = 0; presses < 2 && !(await begun()); presses++) {
        await page.press("#pad-keep");
        for (let i = 0; i < 40 && !(await begun()); i++) await new Promise((done) => setTimeout(done, 50));
        if (presses > 0) console.log("     Keep was pressed twice");
      }
      return phone.until("something is told", () => {
        const t = document.querySelector(".pad-told p")?.textContent ?? "";
        return window.toldAnew > 0 && t !== "Keeping…" && t !== "" ? t : null;
      });
    },
    /** Moves the map by some pixels at the cross. */
    move: (dx, dy) => browser.ev(([x, y]) => {
      const view = window.groundsheet.map.getView();
      const [cx, cy] = view.getCenter();
      view.setCenter([cx + x * view.getResolution(), cy - y * view.getResolution()]);
    }, [dx, dy]),
    told: () => page.text(".pad-told"),
    status: () => page.text("#status"),
    shot: async (what) => writeFile(join(values.shots, `marking-${name}-${what}.png`), await browser.shot()),
  };
  return phone;
}

/** Runs a check in each engine, with a laptop and a hotspot of its own. `f` gets { name, hotspot, field, phone(code), check }. */
export async function inEngines(what, f, { more = [], engines = names } = {}) {
  await mkdir(values.shots, { recursive: true });
  const failed = [];
  for (const name of values.engine ?? engines) {
    if (!engines.includes(name)) continue;
    const lacking = missing(name);
    if (lacking !== "") {
      console.error(`${name}: ${lacking}`);
      process.exit(2);
    }
    const folder = await mkdtemp(join(tmpdir(), "groundsheet-marking-"));
    const began = Date.now();
    const phones = [];
    let hotspot, field;
    try {
      hotspot = await openHotspot();
      field = await laptopIn(folder, more);
      const phone = async (code = codes.mark, options = {}) => {
        const p = await phoneOf(name, hotspot, field, code, options);
        phones.push(p);
        return p;
      };
      await within(longest, `${name}: ${what}`, f({ name, hotspot, field, phone }));
      console.log(`ok   ${name}: ${what} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
    } catch (e) {
      failed.push(name);
      console.log(`FAIL ${name}: ${what}: ${e.stack}`);
      for (const [i, p] of phones.entries()) await p.shot(`failed-${i}`).catch(() => undefined);
    } finally {
      for (const p of phones) await p.browser.close().catch(() => undefined);
      await hotspot?.close();
      await field?.stop().catch(() => undefined);
      await rm(folder, { recursive: true, force: true, maxRetries: 5 });
    }
  }
  if (failed.length > 0) process.exit(1);
}
