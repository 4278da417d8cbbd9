// When an event of the laptop was sent, as far as this device can know.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "./load.mjs";

const { openStream } = await load("field/live/stream.ts");

/** A link on a made-up stream, with a clock that stands until it is set. */
function linked(t) {
  const real = { now: Date.now, EventSource: globalThis.EventSource };
  let stream;
  const clock = { now: 1_800_000_000_000 };
  Date.now = () => clock.now;
  globalThis.EventSource = class {
    heard = {};
    constructor() { stream = this; }
    addEventListener(name, f) { this.heard[name] = f; }
    close() {}
  };
  const told = [];
  const link = openStream((m) => m.name === "position" && told.push(m.at - 1_800_000_000_000));
  t.after(() => {
    link.close();
    Date.now = real.now;
    globalThis.EventSource = real.EventSource;
  });
  const come = (sent, came) => {
    clock.now = 1_800_000_000_000 + came;
    stream.heard.position({ data: "{}", lastEventId: String(sent) });
    return told.at(-1);
  };
  return { come, open: () => stream.onopen() };
}

test("events that come as they are sent", (t) => {
  const { come } = linked(t);
  assert.equal(come(500, 0), 0);
  assert.equal(come(1500, 1000), 1000);
});

test("events that lay in the network while the device slept are as old as they are", (t) => {
  const { come } = linked(t);
  come(1000, 20);
  for (let i = 2; i < 60; i++) assert.equal(come(i * 1000, 600_000), (i - 1) * 1000 + 20);
});

test("a slow first event makes no later one late", (t) => {
  const { come } = linked(t);
  come(1000, 3000);
  assert.equal(come(2000, 3010), 3010);
});

test("a new connection begins anew: the laptop may have been started again", (t) => {
  const { come, open } = linked(t);
  come(3_600_000, 0);
  open();
  assert.equal(come(10, 5000), 5000);
});

test("a laptop that tells no time of sending", (t) => {
  const { come } = linked(t);
  assert.equal(come("", 7), 7);
});
