// The map page as a person uses it, in any engine: where things are on it, and how they are pressed.
// What checks need to know of the page's elements stands here alone.
import { mercator } from "../harness.mjs";
import { decode } from "../pixels.mjs";

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/** The middle of the first element in sight of a selector that has a text; null while there is none that a press would reach. */
function spot(selector, text) {
  const seen = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== "hidden";
  const e = [...document.querySelectorAll(selector)].find((one) => seen(one) && !one.matches(":disabled") && one.textContent.includes(text));
  if (e === undefined) return null;
  const inSight = () => {
    const { left, top, width, height } = e.getBoundingClientRect();
    const at = [left + width / 2, top + height / 2];
    const top1 = document.elementFromPoint(...at);
    return top1 !== null && (e.contains(top1) || e.labels !== undefined && [...e.labels].some((l) => l.contains(top1))) ? at : null;
  };
  const at = inSight();
  if (at !== null) return at;
  e.scrollIntoView({ block: "center" });
  return inSight();
}

export function mapPage(browser) {
  const { ev } = browser;
  const page = {
    browser,

    /** Waits until `f` gives something in the page, and gives it. */
    async until(what, f, ...args) {
      let last;
      for (const began = Date.now(); Date.now() - began < page.patience; await pause(60)) {
        last = await ev(f, ...args).catch((e) => { last = e; }); // the page is being exchanged
        if (last) return last;
      }
      throw new Error(`never: ${what}; on screen: “${(await page.text("body").catch(() => "")).slice(0, 300)}”`);
    },
    patience: 15_000, // in milliseconds

    ready: async () => {
      await page.until("the map is ready", () => document.body.dataset.state === "ready");
      await page.until("nothing says that a part of the page did not come", () => document.getElementById("not-whole")?.hidden !== false);
      await page.settled();
    },
    /** Waits until the map has drawn all that is in view. */
    settled: () => ev(() => new Promise((done) => {
      const { map } = window.groundsheet;
      map.once("rendercomplete", () => setTimeout(done, 120));
      map.render();
    })),

    /** Presses the middle of what a selector finds, once nothing covers it and it rests: an answer that comes may move it. */
    async press(selector, text = "") {
      const find = () => page.until(`${selector} “${text}” to press`, spot, selector, text);
      let at = await find();
      for (let i = 0; i < 20; i++) {
        await pause(40);
        const now = await find();
        const rests = Math.hypot(now[0] - at[0], now[1] - at[1]) < 1;
        at = now;
        if (rests) break;
      }
      await browser.tap(at);
    },
    async type(selector, text) {
      await ev((s) => { document.querySelector(s).value = ""; }, selector);
      await page.press(selector);
      await browser.keys(...text);
    },
    text: (selector) => ev((s) => (document.querySelector(s)?.innerText ?? "").replace(/\s+/g, " ").trim(), selector),
    shows: (selector, words) => page.until(`“${words}” in ${selector}`, (s, w) => {
      const all = [...document.querySelectorAll(s)].filter((e) => e.getClientRects().length > 0).map((e) => e.innerText.replace(/\s+/g, " "));
      return all.find((t) => new RegExp(w).test(t)) ?? "";
    }, selector, words),
    picture: async () => decode(await browser.shot()),

    view: () => ev(() => {
      const view = window.groundsheet.map.getView();
      return { zoom: view.getZoom(), center: view.getCenter() };
    }),
    /** Moves the map to a place in degrees. */
    async goTo([lon, lat], zoom) {
      await ev((center, z) => {
        const view = window.groundsheet.map.getView();
        view.setCenter(center);
        view.setZoom(z);
      }, mercator(lon, lat), zoom);
      await page.settled();
    },
    /** Where a place in degrees is on the screen. */
    pixelOf: ([lon, lat]) => ev((at) => {
      const { map } = window.groundsheet;
      map.renderSync();
      const box = map.getTargetElement().getBoundingClientRect();
      const [x, y] = map.getPixelFromCoordinate(at);
      return [box.left + x, box.top + y];
    }, mercator(lon, lat)),
    /** A place on the screen, where the map is free. */
    free: () => page.until("a free piece of map", () => {
      const on = (x, y) => document.elementFromPoint(x, y)?.closest("#map") !== null;
      for (let y = Math.round(innerHeight * 0.42); y < innerHeight; y += 10) {
        if ([-40, 0, 40].every((d) => on(innerWidth / 2 + d, y) && on(innerWidth / 2, y + d))) return [innerWidth / 2, y];
      }
      return null;
    }),

    /** Opens a sheet by its button, and waits for what it holds. */
    async sheet(name) {
      await page.press({ layers: "#show-layers", tools: "#show-tools", records: "#show-records", job: "#status", cautions: "#caution", position: "#position-open" }[name]);
      await page.until(`the sheet ${name}`, () => document.querySelector("#sheet.open #sheet-body > *") !== null);
    },
    async closeSheet() {
      await page.press("#sheet-close");
      await page.until("the sheet is closed", () => document.querySelector("#sheet.open") === null);
    },
    async tool(name) {
      await page.sheet("tools");
      await page.press("#sheet-body button", name);
    },
    async look(name) {
      await page.sheet("tools");
      await page.press(".choices label", name);
      await page.until(`the look ${name}`, (n) => document.documentElement.dataset.theme === n, { Day: "day", Night: "night", "Strong sun": "sun" }[name]);
      await page.closeSheet();
      await page.settled();
    },
    /** What the page says of the job and the laptop, in the sheet that the line at the top opens. */
    async about() {
      await page.sheet("job");
      const text = await page.text("#sheet-body");
      await page.closeSheet();
      return text;
    },
    /** Chooses one of several jobs, by its place in the list. */
    async choose(n) {
      await ev((i) => document.querySelectorAll(".jobs button")[i].setAttribute("data-chosen", ""), n);
      await page.press(".jobs button[data-chosen]");
    },
    /** Presses a notice by its name. */
    notice: (name) => page.press(`#notices [data-notice="${name}"]`),
    /** Reloads with things of the browser taken away, such as "SharedWorker" or "AbortSignal.timeout". */
    async without(...names) {
      await ev((all) => {
        sessionStorage.setItem("without", all);
        location.reload();
      }, names.join(" ")).catch(() => undefined);
      await pause(300);
      await page.ready();
    },
  };
  return page;
}

/** Runs before the page's own scripts: takes away what `without` names. */
export const takeAway = `try {
  for (const name of (sessionStorage.getItem("without") || "").split(" ").filter(Boolean)) {
    const path = name.split("."), last = path.pop();
    delete path.reduce((o, k) => o[k], globalThis)[last];
  }
} catch {}`;
