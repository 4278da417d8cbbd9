// One stream for all tabs, and what a tab does when the shared worker is of no use.
import assert from "node:assert/strict";
import test, { mock } from "node:test";
import { load } from "./load.mjs";

/** A tab in a made-up browser; its shared worker says `words`, or is none. */
async function tab(t, worker) {
  mock.timers.enable({ apis: ["setTimeout", "setInterval", "Date"] });
  const said = [];
  const port = { postMessage: (w) => said.push(w), close: () => said.push("closed") };
  const streams = [];
  let made;
  class SharedWorker {
    port = port;
    constructor() { made = this; }
  }
  const globals = {
    window: { addEventListener() {}, ...(worker ? { SharedWorker } : {}) }, SharedWorker,
    document: { hidden: false, addEventListener() {} },
    EventSource: class {
      heard = {};
      constructor() { streams.push(this); }
      addEventListener(name, f) { this.heard[name] = f; }
      close() {}
    },
  };
  const before = Object.fromEntries(Object.keys(globals).map((name) => [name, globalThis[name]]));
  Object.assign(globalThis, globals);
  t.after(() => {
    mock.timers.reset();
    Object.assign(globalThis, before);
  });
  const { makeEvents } = await load("field/live/events.ts");
  const told = [];
  makeEvents().on("link", (up) => told.push(up));
  return { said, port, streams, told, worker: made };
}

test("a worker that speaks in time keeps the stream", async (t) => {
  const { said, port, streams, told } = await tab(t, true);
  port.onmessage({ data: { name: "link", data: true, at: 0 } });
  mock.timers.tick(60_000);
  assert.deepEqual([said, streams.length, told], [["hello"], 0, [true]]);
});
test("a worker that stays silent is left, and the tab opens a stream of its own", async (t) => {
  const { said, streams, told } = await tab(t, true);
  mock.timers.tick(2_900);
  assert.equal(streams.length, 0);
  mock.timers.tick(200);
  assert.deepEqual([said, streams.length], [["hello", "bye", "closed"], 1]);
  streams[0].onopen();
  assert.deepEqual(told, [true]);
});
test("a worker that fails is left once, at once", async (t) => {
  const { streams, worker } = await tab(t, true);
  worker.onerror();
  worker.onerror();
  mock.timers.tick(5_000);
  assert.equal(streams.length, 1);
});
test("a browser without shared workers", async (t) => {
  const { streams } = await tab(t, false);
  assert.equal(streams.length, 1);
});
