// Starts a browser that talks to nothing on its own.
import { existsSync } from "node:fs";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const places = [
  "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome",
  "/Applications/Chromium.app/Contents/MacOS/Chromium",
];
const args = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];

/** The browser to use: $CHROMIUM, else the first one found. */
export function findBrowser() {
  const found = [process.env.CHROMIUM, ...places].find((p) => p && existsSync(p));
  if (!found) throw new Error("no Chromium found: install it, or set CHROMIUM to its path");
  return found;
}

/** Opens a browser with a new, empty user folder; `close` removes it again. `more` are further arguments. */
export async function openBrowser(options, more = []) {
  const folder = await mkdtemp(join(tmpdir(), "groundsheet-browser-"));
  const context = await chromium.launchPersistentContext(folder, {
    executablePath: findBrowser(), headless: true, args: [...args, ...more], ...options,
  });
  return {
    context,
    async close() {
      await context.close();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
