// What the service worker answers when the laptop does not.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "./load.mjs";

const origin = "https://crew-7.local";
const heard = {};
globalThis.self = {
  location: { origin, href: `${origin}/sw.js` }, clients: { claim: async () => undefined }, skipWaiting: async () => undefined,
  addEventListener: (name, f) => { heard[name] = f; },
};
globalThis.caches = { open: async () => ({ match: async () => undefined, put: async () => undefined, keys: async () => [] }), keys: async () => [], match: async () => undefined };
await load("field/offline/serviceworker.ts");

/** What the worker answers to a request while the laptop is gone; null if it leaves it to the browser. */
async function answered(path) {
  const { fetch } = globalThis;
  globalThis.fetch = async () => { throw new TypeError("the hotspot is gone"); };
  try {
    let answer = null;
    heard.fetch({ request: new Request(origin + path), respondWith: (p) => { answer = p; }, waitUntil: () => undefined });
    return await answer;
  } finally {
    globalThis.fetch = fetch;
  }
}

// A promise that fails, and an error as the answer, are complaints of their own in Firefox's console, one for each picture.
test("a picture that is not kept, with the laptop gone: a status, and no failure of the worker", async () => {
  assert.equal((await answered("/packs/site/tiles/18/1/2.jpg?v=1")).status, 504);
});
for (const path of ["/packs/site/overlays/a/18/1/2.mvt?v=1", "/packs/site/about.json", "/app.js"]) {
  test(`${path}, not kept, with the laptop gone: the page gets no answer`, async () => {
    assert.equal((await answered(path)).type, "error");
  });
}
test("what is not the page's own is left to the browser", async () => assert.equal(await answered("/join"), null));
