// Firefox, by WebDriver BiDi (W3C): messages in JSON over a web socket.
import { existsSync } from "node:fs";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { start, within } from "./process.mjs";
import { gestures } from "./webdriver.mjs";

const program = [process.env.FIREFOX, "/usr/bin/firefox-esr", "/usr/bin/firefox"].find((p) => p && existsSync(p));

/** What is missing here for it, as a sentence; "" for nothing. */
export function missing() {
  if (!program) return "no Firefox found: install firefox-esr, or set FIREFOX to its path";
  return typeof WebSocket === "function" ? "" : "this Node.js has no WebSocket: start it with --experimental-websocket";
}

/** The settings of a profile: all by the proxy, nothing asked for by the browser itself, colors as told. */
const settings = (proxy, density, scheme) => ({
  "network.proxy.type": 1, "network.proxy.http": proxy.hostname, "network.proxy.http_port": Number(proxy.port),
  "network.proxy.ssl": proxy.hostname, "network.proxy.ssl_port": Number(proxy.port), "network.proxy.failover_direct": false,
  "layout.css.devPixelsPerPx": String(density), "layout.css.prefers-color-scheme.content-override": scheme === "dark" ? 0 : 1,
  "app.update.disabledForTesting": true, "browser.safebrowsing.update.enabled": false, "browser.region.network.url": "",
  "datareporting.policy.dataSubmissionEnabled": false, "dom.push.connection.enabled": false, "extensions.systemAddon.update.enabled": false, "media.gmp-provider.enabled": false,
  "network.captive-portal-service.enabled": false, "network.connectivity-service.enabled": false, "services.settings.server": "data:,#none",
});

/** A session of BiDi at an address; `send` resolves to a command's result. */
async function session(address, heard) {
  const socket = new WebSocket(address);
  const waiting = new Map();
  let last = 0;
  await within(10_000, "Firefox's web socket", new Promise((done, fail) => {
    socket.onopen = done;
    socket.onerror = () => fail(new Error("Firefox took no connection"));
  }));
  socket.onmessage = ({ data }) => {
    const m = JSON.parse(data);
    if (m.type === "event") return heard(m.method, m.params);
    const { done, fail, what } = waiting.get(m.id) ?? {};
    waiting.delete(m.id);
    if (m.type === "error") fail?.(new Error(`${what}: ${m.error}: ${m.message}`));
    else done?.(m.result);
  };
  const send = (method, params = {}) => within(60_000, method, new Promise((done, fail) => {
    waiting.set(++last, { done, fail, what: method });
    socket.send(JSON.stringify({ id: last, method, params }));
  }));
  return { send, close: () => socket.close() };
}

/** Opens it; see index.mjs. */
export async function open({ width, height, density, scheme, proxy, before }) {
  const profile = await mkdtemp(join(tmpdir(), "groundsheet-firefox-"));
  const lines = Object.entries(settings(new URL(proxy), density, scheme)).map(([k, v]) => `user_pref(${JSON.stringify(k)}, ${JSON.stringify(v)});`);
  await writeFile(join(profile, "user.js"), lines.join("\n"));
  const browser = start(program, ["--headless", "--no-remote", "--profile", profile, "--remote-debugging-port", "0", "about:blank"],
    { env: { ...process.env, HOME: profile, MOZ_CRASHREPORTER_DISABLE: "1" } });
  const end = async () => {
    await browser.end();
    await rm(profile, { recursive: true, force: true, maxRetries: 5 });
  };
  try {
    const [, address] = await browser.says(/WebDriver BiDi listening on (ws:\S+)/);
    const complaints = [];
    const bidi = await session(`${address}/session`, (method, p) => {
      if (method === "log.entryAdded" && p.level === "error") complaints.push(p.text);
    });
    await bidi.send("session.new", { capabilities: { alwaysMatch: { acceptInsecureCerts: true } } });
    await bidi.send("session.subscribe", { events: ["log.entryAdded"] });
    const [{ context }] = (await bidi.send("browsingContext.getTree")).contexts;
    if (before) await bidi.send("script.addPreloadScript", { functionDeclaration: `() => { ${before} }` });
    const size = (w, h) => bidi.send("browsingContext.setViewport", { context, viewport: { width: w, height: h }, devicePixelRatio: density });
    await size(width, height);
    const act = (actions) => bidi.send("input.performActions", { context, actions });
    return {
      complaints, size,
      goto: (url) => bidi.send("browsingContext.navigate", { context, url, wait: "complete" }),
      async ev(f, ...args) {
        const r = await bidi.send("script.callFunction", {
          functionDeclaration: `async () => JSON.stringify(await (${f})(...${JSON.stringify(args)}))`, awaitPromise: true, target: { context },
        });
        if (r.type === "exception") throw new Error(r.exceptionDetails.text);
        return r.result.type === "string" ? JSON.parse(r.result.value) : undefined;
      },
      tap: (at) => act(gestures.tap(at)),
      drag: (from, to) => act(gestures.drag(from, to)),
      keys: (...all) => act(gestures.keys(all)),
      shot: async () => Buffer.from((await bidi.send("browsingContext.captureScreenshot", { context })).data, "base64"),
      async close() {
        await bidi.send("browser.close").catch(() => undefined);
        bidi.close();
        await end();
      },
    };
  } catch (e) {
    await end();
    throw e;
  }
}
