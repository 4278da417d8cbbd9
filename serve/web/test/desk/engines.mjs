// The desk in three engines beyond the walk: the secret, the list, the keyboard, dialogs, and drawing by
// keys and by the pointer, read back from the files:
//   node --experimental-websocket test/desk/engines.mjs [--engine NAME…]
import { mkdir, readFile } from "node:fs/promises";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { missing, names, open } from "../engines/index.mjs";
import { openHotspot } from "../engines/hotspot.mjs";
import { check, tally, want } from "../harness.mjs";
import { run, startDesk, tempFolder } from "./harness.mjs";
import { deskPage } from "./journey.mjs";

const { values: { engine } } = parseArgs({ options: { shots: { type: "string" }, engine: { type: "string", multiple: true } } });

async function look(name) {
  const folder = await tempFolder();
  const [home, jobs] = [join(folder.dir, "home"), join(folder.dir, "jobs")];
  await mkdir(jobs);
  const site = join(jobs, "site");
  for (const [dir, called] of [[site, "Valve 12"], [join(jobs, "other"), "Elm St 12"]]) {
    const made = await run(home, "new", dir, "--name", called, "--around", "40.4986,-140.4968", "--radius", "80ft", "--source", "practice");
    if (made.code !== 0) throw new Error(made.out);
  }
  const desk = await startDesk({ folders: [jobs], home });
  const loop = await openHotspot("127.0.0.1");
  const browser = await open(name, { width: 1440, height: 900, density: 1, proxy: loop.proxy });
  const page = deskPage(browser);
  const { ev } = browser;
  const test = (what, f) => check(`${name}: ${what}`, f);
  const focusOn = (selector) => ev((s) => document.querySelector(s).focus(), selector);
  /** Presses a button by Enter; by the pointer where the window is not the active one, as in Firefox without a screen: no key presses a button there. */
  const enter = async (selector) => {
    await focusOn(selector);
    if (await ev(() => document.hasFocus())) return browser.keys("Enter");
    console.log(`     ${name}: ${selector} is pressed by the pointer: the window is not active`);
    return page.press(selector);
  };
  const focused = () => ev(() => document.activeElement?.id || document.activeElement?.className || document.activeElement?.tagName);
  const ready = () => page.until("the desk", () => document.body.dataset.state === "ready");
  const shapes = (n) => page.until(`${n} shapes`, (many) => document.querySelectorAll("#draw-shape option").length === many + 1, n);
  try {
    await test("the secret leaves the address, jobs are listed and pressed while they are drawn anew, and a reload keeps both", async () => {
      await browser.goto(desk.link);
      await ready();
      want(await ev(() => location.hash) === "", "the secret stays in the address");
      await page.until("two jobs", () => document.querySelectorAll("#jobs .job").length === 2);
      await ev(() => { // as answers of the server do, in the middle of a press
        const draw = () => document.querySelectorAll("#jobs .job").forEach((row) => row.replaceChildren(...[...row.childNodes].map((n) => n.cloneNode(true))));
        window.redrawing = setInterval(draw, 5);
      });
      await page.press("#jobs .job", "Valve 12");
      await page.shows("#job-name", "Valve 12");
      await ev(() => clearInterval(window.redrawing));
      await browser.goto(`${desk.origin}/`);
      await ready();
      await page.shows("#job-name", "Valve 12");
    });
    await test("Tab comes to the list, the drawing, the index and the panels", async () => {
      await focusOn("#jobs input");
      const reached = new Set();
      for (let i = 0; i < 90; i++) {
        await browser.keys("Tab");
        reached.add(await focused());
        if (["job", "map", "tool-polygon", "zoom-in", "index-takes", "store", "open-facts"].every((one) => reached.has(one))) return;
      }
      throw new Error(`reached: ${[...reached].join(" ")}`);
    });
    await test("a dialog opens by a key, and Escape gives the focus back", async () => {
      await enter("#open-facts");
      await page.until("the facts", () => document.querySelector("dialog[open] #fact-margin") !== null);
      await browser.keys("Escape");
      await page.until("it is closed", () => document.querySelector("dialog") === null);
      want(await focused() === "open-facts", await focused());
    });
    await test("an area is drawn with keys alone", async () => {
      await enter("#tool-polygon");
      await shapes(1);
      await page.until("the map has the focus", () => document.activeElement?.id === "map");
      const far = (key, n) => Array(n).fill(key);
      for (const way of [[...far("ArrowLeft", 14), ...far("ArrowUp", 10)], far("ArrowRight", 4), far("ArrowDown", 4)]) {
        await browser.keys(...way);
        await page.settled(); // the map has come to where the corner is to be
        await browser.keys("Enter");
      }
      await page.until("Finish", () => !document.querySelector("#draw button:nth-of-type(3)")?.hidden);
      await page.press("#draw button", "Finish");
      await shapes(2);
      await page.shows("#draw .live", "3 corners");
    });
    await test("a corner is dragged with the pointer, taken back and drawn again, and saved", async () => {
      const corner = await ev(() => {
        const { map } = window.groundsheet;
        const drawn = map.getLayers().getArray().find((l) => l.get("name") === "drawn").getSource().getFeatures();
        const box = map.getTargetElement().getBoundingClientRect();
        const [x, y] = map.getPixelFromCoordinate(drawn.find((f) => f.get("shape").kind === "polygon").getGeometry().getCoordinates()[0][1]);
        return [box.left + x, box.top + y];
      });
      const before = await page.text("#draw .live");
      await browser.drag(corner, [corner[0] + 60, corner[1] - 40]);
      await page.until("it is larger", (was) => document.querySelector("#draw .live").innerText.replace(/\s+/g, " ").trim() !== was && document.querySelector("#draw .live").innerText.includes("3 corners"), before);
      await page.press("#draw button", "Undo");
      await page.until("it is as before", (was) => document.querySelector("#draw .live").innerText.replace(/\s+/g, " ").trim() === was || document.querySelector("#draw-shape").value === "-1", before);
      await page.press("#draw button", "Redo");
      await page.until("it can be saved", () => !document.querySelector("#draw button.main").disabled);
      await page.press("#draw button.main");
      await page.until("it is saved", () => document.querySelector("#draw").hidden);
      const [toml, area] = await Promise.all([readFile(join(site, "job.toml"), "utf8"), readFile(join(site, "area.geojson"), "utf8")]);
      want(toml.includes('area = ["area.geojson"]') && area.includes('"Polygon"'), `${toml}\n${area}`);
    });
    await test("nothing is complained of", () => want(browser.complaints.length === 0, browser.complaints.join(" | ")));
  } finally {
    await browser.close();
    await loop.close();
    await desk.stop();
    await folder.remove();
  }
}

for (const name of engine ?? names) {
  const lacking = missing(name);
  if (lacking !== "") {
    console.error(`${name}: ${lacking}`);
    process.exit(2);
  }
  await look(name);
}
process.exit(tally.failed > 0 ? 1 : 0);
