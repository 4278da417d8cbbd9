// Every sheet of recording is on every shape of screen in every light: no text is wider than the screen, no key smaller than 56 px,
// axe-core finds nothing, and the map at rest keeps its share. Leaves screenshots to look at.
import { readFile } from "node:fs/promises";
import { violations } from "../tools.mjs";
import { inEngines, want } from "./harness.mjs";

const axe = await readFile(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");
/** By area, the button that records taken off too: stricter than the height of the free map. */
const screens = [["phone", 390, 844, 0.74], ["small", 360, 640, 0.6], ["side", 844, 390, 0.65], ["tablet", 820, 1180, 0.8]];

await inEngines("every sheet fits every screen in every light", async ({ phone }) => {
  const one = await phone();
  await one.join();
  const { browser } = one;
  const freeShare = () => browser.ev(() => {
    let [free, all] = [0, 0];
    for (let y = 3; y < innerHeight; y += 6) for (let x = 3; x < innerWidth; x += 6) {
      all++;
      if (document.elementFromPoint(x, y)?.closest("#map")) free++;
    }
    return free / all;
  });
  const look = async (what) => {
    const wide = await browser.ev(() => [...document.querySelectorAll("#pad *, #sheet-body *")].filter((e) => e.getClientRects().length > 0 && e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.outerHTML.slice(0, 80)));
    want(wide.length === 0, `${what}: wider than the screen: ${wide[0]}`);
    const small = await browser.ev(() => [...document.querySelectorAll(".pad-keys button, .pad-last button, .pad-near button:not(#pad-all), #mark-open")].filter((e) => e.getClientRects().length > 0)
      .map((e) => e.getBoundingClientRect()).filter((r) => r.height < 55.5 || r.width < 44).map((r) => `${r.width}×${r.height}`));
    want(small.length === 0, `${what}: small keys ${small.join(" ")}`);
    await one.shot(what);
  };
  await one.pad();
  await one.depth(["3", "big", "4"]);
  await one.keep();
  await one.press("#pad-done");
  for (const light of ["day", "night", "sun"]) {
    await browser.ev((l) => localStorage.setItem("groundsheet look", l), light);
    for (const [name, width, height, least] of screens) {
      if (light !== "day" && name !== "phone") continue;
      await browser.size(width, height);
      await one.openAgain();
      await one.until("the button to mark", () => document.querySelector("#mark-open:not([hidden])") !== null);
      await one.settled();
      const share = await freeShare();
      want(share >= least, `${name}: ${(share * 100).toFixed(0)} % free at rest`);
      await look(`${name}-${light}-rest`);
      await one.pad();
      console.log(`     ${name} ${light}: ${(share * 100).toFixed(0)} % free at rest, ${((await freeShare()) * 100).toFixed(0)} % with the pad`);
      await look(`${name}-${light}-pad`);
      if (name === "phone") {
        const found = await violations(browser.page, axe);
        want(found.length === 0, `axe-core, pad: ${found.join(" | ")}`);
      }
      for (const chip of light === "day" ? ["kind", "utility", "method", "reference", "more"] : ["more"]) {
        await one.press(`#pad-${chip}`);
        await one.until("its sheet", () => document.querySelector("#sheet.open #sheet-body > *") !== null);
        if (name === "phone" || chip === "more") await look(`${name}-${light}-${chip}`);
        if (name === "phone") {
          const found = await violations(browser.page, axe);
          want(found.length === 0, `axe-core, ${chip}: ${found.join(" | ")}`);
        }
        await one.press("#sheet-close");
      }
      await one.press("#pad-done");
      if (name !== "phone") continue;
      await browser.ev(() => document.getElementById("status").click());
      await one.press("#sheet-body .jobs button", "Marks");
      await look(`${name}-${light}-list`);
      await one.press("#sheet-body .jobs button", "Reading");
      await one.until("the mark", () => document.querySelector(".mark-sheet .hit") !== null);
      await look(`${name}-${light}-mark`);
      const found = await violations(browser.page, axe);
      want(found.length === 0, `axe-core, mark: ${found.join(" | ")}`);
      await one.press("#sheet-close");
    }
  }
}, { engines: ["chromium"] });
