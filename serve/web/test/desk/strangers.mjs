// Pages of strangers in the same browser get nothing of the desk: another origin, another tab, a frame, a
// form, a link without its secret, the link of an earlier start:  node test/desk/strangers.mjs
import { createServer } from "node:http";
import { join } from "node:path";
import { check, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
const { code, out } = await run(home, "new", join(jobs, "valve"), "--name", "Valve 12", "--around", "40.4986,-140.4968", "--radius", "60ft", "--source", "practice");
if (code !== 0) throw new Error(out);
const earlier = await startDesk({ folders: [jobs], home });
const { port } = new URL(earlier.origin);
await earlier.stop();
const desk = await startDesk({ folders: [jobs], home, args: ["--listen", `127.0.0.1:${port}`] }); // at the address of the earlier one
const { browser, page, close } = await openDesk(desk);
const site = createServer((_, answer) => answer.setHeader("Content-Type", "text/html").end("<!doctype html><title>another site</title>"));
await new Promise((done) => site.listen(0, "127.0.0.1", done));
const other = `http://127.0.0.1:${site.address().port}/`;
const tab = await browser.context.newPage();
await tab.goto(other);

/** What a page gets from an address, by fetch. */
const fetched = (from, to, init) => from.evaluate(async ([url, options]) => {
  try {
    const answer = await fetch(url, options);
    return `${answer.status} ${answer.type} ${await answer.text()}`;
  } catch (e) {
    return `refused: ${e.message}`;
  }
}, [to, init]);

await check("another origin reads nothing, not even with the secret", async () => {
  for (const headers of [{}, { "Groundsheet-Desk": desk.secret }]) {
    for (const init of [{ headers }, { headers: { ...headers, "Content-Type": "application/json" }, method: "POST", body: "{}" }]) {
      const got = await fetched(tab, `${desk.origin}/api/jobs`, init);
      want(got.startsWith("refused"), got);
    }
  }
  const blind = await fetched(tab, `${desk.origin}/api/jobs`, { mode: "no-cors" });
  want(!blind.includes("Valve"), blind);
});
await check("another origin starts nothing by a form or a blind request", async () => {
  await fetched(tab, `${desk.origin}/api/tasks`, { mode: "no-cors", method: "POST", body: '{"kind":"ready","jobs":[]}' });
  await tab.evaluate((to) => new Promise((done) => {
    const frame = Object.assign(document.createElement("iframe"), { name: "to", onload: done });
    document.body.append(frame);
    const form = Object.assign(document.createElement("form"), { action: to, method: "post", target: "to", enctype: "text/plain" });
    form.append(Object.assign(document.createElement("input"), { name: '{"kind":"ready","x":"', value: '"}' }));
    document.body.append(form);
    form.submit();
    setTimeout(done, 1500);
  }), `${desk.origin}/api/tasks`);
  const { body } = await desk.api("/api/tasks");
  want(body.length === 0, JSON.stringify(body));
});
await check("no page frames the desk, takes its script or holds on to its window", async () => {
  const got = await tab.evaluate(async (to) => {
    const frame = document.createElement("iframe");
    frame.src = to;
    document.body.append(frame);
    await new Promise((done) => setTimeout(done, 800));
    let framed = "not read";
    try {
      framed = frame.contentDocument?.body?.innerHTML ?? "not read";
    } catch {
      // another origin
    }
    const script = await new Promise((done) => document.head.append(Object.assign(document.createElement("script"), { src: `${to}desk.js`, onload: () => done("loaded"), onerror: () => done("refused") })));
    const opened = window.open(to);
    await new Promise((done) => setTimeout(done, 800));
    return { framed, script, closed: opened?.closed ?? true };
  }, `${desk.origin}/`);
  want(!got.framed.includes("job-name"), got.framed);
  want(got.script === "refused", got.script);
  want(got.closed === true, "the window of the desk is still held");
});
await check("another tab without the link shows nothing", async () => {
  const bare = await browser.context.newPage();
  await bare.goto(`${desk.origin}/`);
  await bare.waitForSelector('body[data-state="refused"]');
  want(!(await bare.locator("body").innerText()).includes("Valve"), "it shows a job");
  const got = await fetched(bare, "/api/jobs", {});
  want(got.startsWith("403"), got);
  await bare.close();
});
await check("the link of an earlier start shows nothing, and says so", async () => {
  const stale = await browser.context.newPage();
  await stale.goto(earlier.link);
  await stale.locator("#told .bad, .refused").first().waitFor({ timeout: 10_000 });
  const text = await stale.locator("body").innerText();
  want(!text.includes("Valve") && /no longer valid/.test(text), text);
  await stale.close();
});
await check("the desk itself is as it was", async () => {
  await page.locator("#jobs .job", { hasText: "Valve 12" }).click();
  await page.waitForFunction(() => document.querySelector("#job-name").textContent === "Valve 12");
  want(!(await page.content()).includes(desk.secret), "the secret stands in the page");
});
await close();
site.close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
