// WebKitGTK, by WebDriver over HTTP (W3C), in a window of our own on a screen of our own (Xvfb).
import { execFileSync } from "node:child_process";
import { existsSync, readFileSync } from "node:fs";
import { mkdtemp, rm } from "node:fs/promises";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { PNG } from "pngjs";
import { start, within } from "./process.mjs";
import { gestures } from "./webdriver.mjs";

const python = "/usr/bin/python3"; // Debian's own: another one on the path lacks its packages
const onPath = (name) => process.env.PATH.split(":").some((folder) => existsSync(join(folder, name)));

/** What is missing here for it, as a sentence; "" for nothing. */
export function missing() {
  for (const [program, debian] of [["WebKitWebDriver", "webkit2gtk-driver"], ["Xvfb", "xvfb"]]) {
    if (!onPath(program)) return `no ${program} found: install ${debian}`;
  }
  try {
    execFileSync(python, ["-c", "import gi; gi.require_version('Gtk', '3.0'); gi.require_version('WebKit2', '4.1'); from gi.repository import WebKit2"], { stdio: "ignore", timeout: 30_000 });
    return "";
  } catch {
    return `${python} has no window for WebKit: install python3-gi and gir1.2-webkit2-4.1`;
  }
}

/** A port that was free a moment ago. */
const freePort = () => new Promise((done) => {
  const server = createServer();
  server.listen(0, "127.0.0.1", () => {
    const { port } = server.address();
    server.close(() => done(port));
  });
});

/** The picture on a screen of Xvfb, from the file that it keeps it in (X11's XWDFile.h: 25 numbers, a map of colors, rows). */
function picture(file, width, height) {
  const all = readFileSync(file);
  const number = (i) => all.readUInt32BE(i * 4);
  const [header, row, colors] = [number(0), number(12), number(19)];
  const png = new PNG({ width, height });
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const from = header + colors * 12 + y * row + x * 4;
      const to = (y * width + x) * 4;
      [png.data[to], png.data[to + 1], png.data[to + 2], png.data[to + 3]] = [all[from + 2], all[from + 1], all[from], 255];
    }
  }
  return PNG.sync.write(png);
}

/** Calls of WebDriver at a port. */
const caller = (port) => async (method, path, body) => {
  const answer = await fetch(`http://127.0.0.1:${port}${path}`, {
    method, body: body && JSON.stringify(body), headers: { "Content-Type": "application/json" }, signal: AbortSignal.timeout(60_000),
  });
  const { value } = await answer.json();
  if (value?.error) throw new Error(`${path}: ${value.error}: ${value.message}`);
  return value;
};

/** Opens it; see index.mjs. */
export async function open({ width, height, density, scheme, proxy, before }) {
  const home = await mkdtemp(join(tmpdir(), "groundsheet-webkit-"));
  const started = [];
  const end = async () => {
    for (const one of started.reverse()) await one.end();
    await rm(home, { recursive: true, force: true, maxRetries: 5 });
  };
  try {
    const most = Math.max(width, height) * density; // turned, it must still have room
    const screen = start("Xvfb", ["-displayfd", "1", "-screen", "0", `${most}x${most}x24`, "-nolisten", "tcp", "-fbdir", home]);
    started.push(screen);
    const [display] = await screen.says(/^\d+$/);
    const complaints = [];
    const port = await freePort();
    const driver = start("WebKitWebDriver", [`--port=${port}`, "--host=127.0.0.1"], {
      env: {
        ...process.env, DISPLAY: `:${display}`, HOME: home, XDG_DATA_HOME: home, XDG_CACHE_HOME: home, XDG_CONFIG_HOME: home, GDK_BACKEND: "x11",
        GDK_SCALE: String(density), LIBGL_ALWAYS_SOFTWARE: "1", WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS: "1", NO_AT_BRIDGE: "1", GTK_THEME: scheme === "dark" ? "Adwaita:dark" : "Adwaita",
        WINDOW_SIZE: `${width}x${height}`, WINDOW_PROXY: proxy, WINDOW_DARK: scheme === "dark" ? "1" : "0", WINDOW_BEFORE: before ?? "",
      },
      heard: (line) => { if (/CONSOLE \w+ ERROR/.test(line)) complaints.push(line); },
    });
    started.push(driver);
    const call = caller(port);
    await within(20_000, "WebKitWebDriver", (async () => {
      while (!(await call("GET", "/status").catch(() => null))) await new Promise((done) => setTimeout(done, 50));
    })());
    const { sessionId } = await call("POST", "/session", { capabilities: { alwaysMatch: {
      acceptInsecureCerts: true, "webkitgtk:browserOptions": { binary: python, args: [fileURLToPath(new URL("webkitwindow.py", import.meta.url))] },
    } } });
    const own = (method, path, body) => call(method, `/session/${sessionId}${path}`, body);
    await own("POST", "/timeouts", { script: 60_000, pageLoad: 60_000, implicit: 0 });
    const ev = async (f, ...args) => {
      const { value, failed } = await own("POST", "/execute/async", {
        script: `const [args, done] = arguments; Promise.resolve().then(() => (${f})(...JSON.parse(args))).then((value) => done({ value }), (e) => done({ failed: String(e) }));`,
        args: [JSON.stringify(args)],
      });
      if (failed) throw new Error(failed);
      return value ?? undefined;
    };
    const act = (actions) => own("POST", "/actions", { actions });
    const now = { width, height };
    return {
      complaints, ev,
      goto: (url) => own("POST", "/url", { url }),
      tap: (at) => act(gestures.tap(at)),
      drag: (from, to) => act(gestures.drag(from, to)),
      keys: (...all) => act(gestures.keys(all)),
      async shot() {
        await ev(() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 250))));
        return picture(join(home, "Xvfb_screen0"), now.width * density, now.height * density);
      },
      async size(w, h) {
        await own("POST", "/window/rect", { x: 0, y: 0, width: w, height: h });
        await within(5_000, `a window of ${w} × ${h}`, (async () => {
          while (!(await ev((a, b) => innerWidth === a && innerHeight === b, w, h))) await new Promise((done) => setTimeout(done, 50));
        })());
        Object.assign(now, { width: w, height: h });
      },
      async close() {
        await own("DELETE", "").catch(() => undefined);
        await end();
      },
    };
  } catch (e) {
    await end();
    throw e;
  }
}
