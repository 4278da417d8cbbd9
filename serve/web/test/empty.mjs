// Checks what the page says to do when there is no map to show.
import { join } from "node:path";
import { check, openPage, want } from "./harness.mjs";

const phone = { width: 390, height: 844, density: 2, touch: true };
const state = (page, name) => page.locator(`body[data-state="${name}"]`).waitFor({ timeout: 20_000 });
const isList = (url) => url.pathname === "/packs.json";

/** Runs all checks of this file against a server with any pack. */
export async function emptyChecks(site, shots) {
  const { packs } = await (await fetch(new URL("/packs.json", site))).json();
  const { browser, page } = await openPage(phone);
  const text = async () => (await page.locator("#empty").innerText()).replace(/\s+/g, " ");
  await check("laptop out of reach at first: what to look at is said, and trying again opens the map", async () => {
    await page.route((url) => url.pathname.endsWith("/about.json"), (r) => r.abort());
    await page.goto(site.href);
    await state(page, "failed");
    for (const words of ["cannot be opened", "did not answer", "job's Wi-Fi", "laptop awake", site.origin]) want((await text()).includes(words), `no “${words}” in “${await text()}”`);
    want(!(await page.locator("#dock").isVisible()), "buttons that do nothing are offered");
    await page.screenshot({ path: join(shots, "empty-failed.png") });
    await page.unrouteAll();
    await page.locator("#empty button").click();
    await state(page, "ready");
    want(!(await page.locator("#empty").isVisible()), "it stays over the map");
  });
  await check("no job: it is said what to do at the laptop, and looking again finds one", async () => {
    await page.route(isList, (r) => r.fulfill({ json: { packs: [] } }));
    await page.goto("about:blank");
    await page.goto(site.href);
    await state(page, "choosing");
    want((await text()).includes("groundsheet serve"), await text());
    await page.screenshot({ path: join(shots, "empty-none.png") });
    await page.unrouteAll();
    await page.locator("#empty button").click();
    await state(page, "ready");
  });
  await check("several jobs: a list that was closed can be opened again", async () => {
    await page.route(isList, (r) => r.fulfill({ json: { packs: [...packs, { ...packs[0], id: "another" }] } }));
    await page.goto("about:blank");
    await page.goto(site.href);
    await state(page, "choosing");
    await page.click("#sheet-close");
    want((await text()).includes("No job is open") && (await text()).includes("2 jobs"), await text());
    await page.screenshot({ path: join(shots, "empty-closed.png") });
    await page.locator("#empty button").click();
    want(await page.locator("#sheet-body .jobs button").count() === 2, "no list");
  });
  await browser.close();
}
