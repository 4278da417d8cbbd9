// Starts the desk itself, on folders and with a config folder and a store of its own, and opens its
// page with the secret:
//   const desk = await startDesk({ folders: [dir] });
//   const { page, close } = await openDesk(desk, { width: 1440, height: 900 });
import { spawn } from "node:child_process";
import { mkdir, mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { load, longestWork, yardstick } from "../frames.mjs";
import { check, openPage, want } from "../harness.mjs";

/** The program: $GROUNDSHEET, else bin/groundsheet. */
export const program = process.env.GROUNDSHEET ?? join(dirname(fileURLToPath(import.meta.url)), "../../../../bin/groundsheet");

/** A new folder under the system's own; `remove` takes it away. */
export async function tempFolder() {
  const dir = await mkdtemp(join(tmpdir(), "groundsheet-desk-test-"));
  return { dir, remove: () => rm(dir, { recursive: true, force: true }) };
}

const envOf = (home, store = "") => ({ ...process.env, HOME: home, XDG_CONFIG_HOME: join(home, "config"), XDG_CACHE_HOME: join(home, "cache"), GROUNDSHEET_STORE: store });

/** Runs the program to its end; gives what it wrote and its exit code. */
export async function run(home, ...args) {
  await mkdir(home, { recursive: true });
  const child = spawn(program, args, { env: envOf(home), stdio: ["ignore", "pipe", "pipe"] });
  let out = "";
  child.stdout.on("data", (b) => { out += b; });
  child.stderr.on("data", (b) => { out += b; });
  const code = await new Promise((done) => child.on("exit", done));
  return { out, code };
}

/** Starts the desk; gives its link, origin and secret, and `stop` and `kill`. `home` keeps its settings, and its store unless another is given. */
export async function startDesk({ folders = [], home, store, args = [] }) {
  await mkdir(home, { recursive: true });
  const child = spawn(program, ["desk", ...folders, "--no-browser", ...args], { env: envOf(home, store), stdio: ["ignore", "pipe", "inherit"] });
  let words = "";
  await new Promise((done, fail) => {
    const late = setTimeout(() => fail(new Error(`the desk does not begin: ${words}`)), 20_000);
    child.stdout.on("data", (b) => {
      words += b;
      if (!/^desk: \S+\n/m.test(words)) return;
      clearTimeout(late);
      done();
    });
    child.on("exit", (code) => fail(new Error(`the desk ended with ${code}: ${words}`)));
  });
  const link = /^desk: (\S+)$/m.exec(words)[1];
  const end = (signal) => new Promise((done) => {
    child.removeAllListeners("exit");
    if (child.exitCode !== null || child.signalCode !== null) return done();
    child.on("exit", done);
    child.kill(signal);
  });
  const { origin, hash } = new URL(link);
  const secret = hash.slice(1);
  return {
    link, origin, secret, pid: child.pid, stop: () => end("SIGINT"), kill: () => end("SIGKILL"),
    /** Asks the server as the page does. */
    api: async (path, body) => {
      const answer = await fetch(origin + path, body === undefined ? { headers: { "Groundsheet-Desk": secret } }
        : { method: "POST", body: JSON.stringify(body), headers: { "Groundsheet-Desk": secret, Origin: origin, "Content-Type": "application/json" } });
      return { status: answer.status, body: await answer.json().catch(() => null) };
    },
  };
}

/** Opens the page and waits until it hears of events. */
export async function openDesk(desk, screen = {}) {
  const opened = await openPage({ width: 1440, height: 900, density: 1, touch: false, ...screen });
  await opened.page.goto(desk.link);
  await opened.page.waitForSelector('body[data-state="ready"]', { timeout: 15_000 });
  return { ...opened, close: () => opened.browser.close() };
}

/** No piece of work of the page is to take longer, in ms. `dev bench desk` measures that; a test on any machine asserts less. */
const longestAim = 100;
/** What a test lets through, in yardsticks: of the longest piece of work, which may have met a collection of garbage, and of the fifth. */
const most = { longest: 6, fifth: 3 };

/** Checks that the page stays fluid while `move` runs; with `bench`, by the aim itself. */
export const fluid = (page, what, move, bench) => check(`fluid: ${what}`, async () => {
  const before = await yardstick(page);
  const work = await longestWork(page, move);
  const stick = Math.max(before, await yardstick(page));
  const [longest, fifth] = [work[0], work[4] ?? 0];
  console.log(`     ${what}: longest work ${work.slice(0, 5).map((v) => v.toFixed(1)).join(", ")} ms of processor time, aim ${longestAim}; ${(longest / stick).toFixed(2)} and ${(fifth / stick).toFixed(2)} of a yardstick of ${stick.toFixed(1)} ms; ${load()}`);
  if (bench) want(longest <= longestAim, `${longest.toFixed(1)} ms`);
  want(longest <= most.longest * stick && fifth <= most.fifth * stick, `${(longest / stick).toFixed(1)} and ${(fifth / stick).toFixed(1)} yardsticks, ${most.longest} and ${most.fifth} are let through`);
});
