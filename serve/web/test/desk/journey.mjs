// The whole way on the desk, from an empty folder to a served map, in any engine and by pointing alone:
// no coordinate is typed. With `human` a person's pauses are made, and what is pressed is counted.
import { want } from "../harness.mjs";
import { mapPage } from "../engines/mappage.mjs";

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/** How long a person takes, in milliseconds: to find what to press, to read what has come up, and for each letter. */
const person = { find: 1200, read: 2500, letter: 220 };
const machine = { find: 0, read: 0, letter: 0 };

/** The desk's page in a browser; `clicks` counts presses. */
export function deskPage(browser, { human = false } = {}) {
  const takes = human ? person : machine;
  const mouse = browser.page === undefined ? browser : { ...browser, tap: ([x, y]) => browser.page.mouse.click(x, y) };
  const page = mapPage(mouse);
  page.patience = 60_000; // packing takes that long on a machine with other work
  const wait = (ms) => {
    desk.taken += ms;
    return pause(ms);
  };
  const desk = {
    ...page, clicks: 0,
    /** what the person has taken, in milliseconds: the rest is the machine's */
    taken: 0,
    look: () => wait(takes.read),
    async press(selector, text) {
      await wait(takes.find);
      await page.press(selector, text);
      desk.clicks++;
    },
    async type(selector, text) {
      await page.until(selector, (s) => document.querySelector(s) !== null, selector);
      await wait(takes.find + takes.letter * text.length);
      await page.type(selector, text);
    },
    /** Chooses in a list: a press to open it, one on what it holds. */
    async choose(selector, value) {
      await wait(takes.find + takes.read / 2);
      await page.until(`${value} in ${selector}`, (s, v) => {
        const e = document.querySelector(s);
        if (e === null || ![...e.options].some((o) => o.value === v)) return false;
        e.value = v;
        e.dispatchEvent(new Event("change", { bubbles: true }));
        return true;
      }, selector, value);
      desk.clicks += 2;
    },
    /** Drops a file as a hand does. */
    async drop(selector, name, text) {
      await wait(takes.find * 3); // to find it in a folder, and to drag it here
      await browser.ev((s, n, t) => {
        const transfer = new DataTransfer();
        transfer.items.add(new File([t], n));
        for (const type of ["dragenter", "dragover", "drop"]) document.querySelector(s).dispatchEvent(new DragEvent(type, { dataTransfer: transfer, bubbles: true, cancelable: true }));
      }, selector, name, text);
    },
    /** Presses the map so many pixels from its middle. */
    async point(dx, dy) {
      const [x, y] = await browser.ev(() => {
        const { left, top, width, height } = document.querySelector("#map").getBoundingClientRect();
        return [left + width / 2, top + height / 2];
      });
      await wait(Math.max(300, takes.find)); // two presses in a moment would be one double press
      await mouse.tap([x + dx, y + dy]);
    },
    /** Goes nearer by the button until the map is at a zoom. */
    async nearer(zoom) {
      for (let i = 0; i < 40 && (await page.view()).zoom < zoom - 0.1; i++) {
        await page.press("#zoom-in");
        await wait(human ? 350 : 200);
      }
      await page.settled();
    },
  };
  return desk;
}

/** Draws an area of four corners by pointing; it is of no job yet. */
export async function drawArea(desk) {
  await desk.press("#new-job");
  await desk.choose("#panel-source select", "practice");
  await desk.nearer(19);
  for (const [x, y] of [[-90, -70], [90, -70], [90, 80], [-90, 80], [-90, -70]]) await desk.point(x, y);
  await desk.shows("#draw .live", "4 corners");
}

/** Makes a job of what is drawn, with two files of records, as far as packing. Gives its folder's name. */
export async function prepare(desk, name) {
  await desk.press("#draw button.main");
  await desk.type("#new-name", name);
  await desk.press("dialog[open] .foot button.main");
  await desk.shows("#job-name", name);
  const [west, south, east, north] = (await desk.until("the job's bounds", async (n) => {
    const header = { "Groundsheet-Desk": sessionStorage.getItem("groundsheet desk") };
    const { jobs } = await (await fetch("/api/jobs", { headers: header })).json();
    const job = jobs.find((j) => j.name === n);
    return job && (await (await fetch(`/api/jobs/${job.id}`, { headers: header })).json()).bounds;
  }, name));
  const middle = (south + north) / 2;
  // What a utility would send: a main through the area, and one along its edge.
  const line = (coordinates, properties) => JSON.stringify({ type: "FeatureCollection", features: [{ type: "Feature", properties, geometry: { type: "LineString", coordinates } }] });
  const files = [["water main.geojson", line([[west, middle], [east, middle]], { size: "8 in" })], ["gas main.geojson", line([[west, south], [west + (east - west) / 3, north]], { size: "2 in" })]];
  for (const [file, text] of files) {
    await desk.drop("#panel-recorded", file, text);
    await desk.until("the proposal", () => document.querySelector("dialog.proposal button.main:not(:disabled)") !== null);
    await desk.look();
    await desk.press("dialog.proposal button.main");
    await desk.until("the record is taken in", () => document.querySelector("dialog.proposal") === null);
  }
  await desk.until("both records are listed", () => document.querySelectorAll("#panel-recorded .one").length === 2);
  await desk.press("#pack");
}

/** Waits for the verdict, looks at the brief, serves, and gives the link by which phones join. */
export async function serve(desk, browser) {
  await desk.until("the verdict", () => document.querySelector("#panel-work .verdict.yes") !== null);
  await desk.press("#brief");
  await desk.shows("dialog.paper .where", "Page 1 of");
  await browser.keys("ArrowRight");
  await desk.until("a map of the brief", () => [...document.querySelectorAll("dialog.paper .sheet.map img")].some((i) => i.complete && i.naturalWidth > 0));
  await desk.press("dialog.paper .head button");
  await desk.press("#serve");
  const link = await desk.until("the link to join", () => /\S+$/.exec(document.querySelector("dialog[open] .qr")?.getAttribute("aria-label") ?? "")?.[0] ?? "");
  want(/^http:\/\/\S+\/join#\d{12}$/.test(link), link);
  await desk.press("dialog[open] .head button");
  return link;
}

/** Joins as a phone does, on this computer, and sees the map with what is recorded. */
export async function join(desk, browser, link) {
  const { port, hash } = new URL(link);
  await browser.goto(`http://127.0.0.1:${port}/join${hash}`);
  await desk.until("the map is served", () => document.body.dataset.state === "ready" || (document.querySelector("#go")?.click(), false));
  await desk.until("what is recorded", () => window.groundsheet?.map !== undefined && document.querySelector("#map canvas") !== null);
}
