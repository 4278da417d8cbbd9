// Tabs that share one stream: who has it, and what they say to each other meanwhile.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "./load.mjs";

const { shareByLeader } = await load("field/live/leader.ts");

/** A browser of a few tabs with a clock that stands until it is moved. */
function browser(t) {
  t.mock.timers.enable({ apis: ["setTimeout", "Date"], now: 1_800_000_000_000 });
  const real = { document: globalThis.document, BroadcastChannel: globalThis.BroadcastChannel, EventSource: globalThis.EventSource };
  t.after(() => Object.assign(globalThis, real));
  const world = { tabs: [], posted: 0, streams: 0, current: null, queue: [] };
  globalThis.document = { get hidden() { return world.current.hidden; } };
  globalThis.BroadcastChannel = class {
    constructor() { (this.tab = world.current).channel = this; }
    postMessage(m) {
      world.posted++;
      for (const other of world.tabs) if (other !== this.tab && other.channel && !other.frozen) world.queue.push([other, m]);
    }
    close() { this.tab.channel = null; }
  };
  globalThis.EventSource = class {
    constructor() {
      (this.tab = world.current).source = this;
      this.heard = {};
      world.streams++;
    }
    addEventListener(name, f) { this.heard[name] = f; }
    close() {
      if (this.tab.source !== this) return;
      this.tab.source = null;
      world.streams--;
    }
  };
  const as = (tab, f) => {
    world.current = tab;
    return f();
  };
  const deliver = () => {
    while (world.queue.length > 0) {
      const [tab, data] = world.queue.shift();
      if (tab.channel) as(tab, () => tab.channel.onmessage({ data }));
    }
  };
  // Timers run as the tab that set them.
  const set = globalThis.setTimeout;
  globalThis.setTimeout = (f, ms) => {
    const tab = world.current;
    return set(() => { if (!tab.frozen) as(tab, f); deliver(); }, ms);
  };
  t.after(() => { globalThis.setTimeout = set; });
  return {
    open(hidden = false) {
      const tab = { hidden, got: 0 };
      world.tabs.push(tab);
      tab.stream = as(tab, () => shareByLeader(() => { tab.got++; }));
      deliver();
      return tab;
    },
    show(tab, hidden) {
      tab.hidden = hidden;
      if (!hidden) as(tab, () => tab.stream.wake());
      deliver();
    },
    event() {
      for (const tab of world.tabs) if (tab.source) as(tab, () => tab.source.heard.position({ data: "{}", lastEventId: "" }));
      deliver();
    },
    close(tab) {
      as(tab, () => tab.stream.close());
      world.tabs = world.tabs.filter((x) => x !== tab);
      deliver();
    },
    pass(seconds) {
      for (let i = 0; i < seconds * 10; i++) {
        t.mock.timers.tick(100);
        deliver();
      }
    },
    posted: () => world.posted,
    streams: () => world.streams,
  };
}

test("a tab that is alone leads, and says nothing", (t) => {
  const b = browser(t);
  const tab = b.open();
  b.pass(2);
  assert.equal(b.streams(), 1);
  const before = b.posted();
  b.pass(20); // no event: the stream is still trusted
  assert.equal(b.posted(), before);
  b.event();
  assert.equal(tab.got, 1);
  assert.equal(b.posted(), before);
});

test("two tabs, one stream; while events come nobody asks", (t) => {
  const b = browser(t);
  b.open();
  b.pass(2);
  const second = b.open();
  b.pass(2);
  assert.equal(b.streams(), 1);
  const before = b.posted();
  for (let i = 0; i < 30; i++) {
    b.event();
    b.pass(1);
  }
  assert.equal(second.got, 30);
  assert.equal(b.posted() - before, 30);
});

test("a hidden tab says nothing", (t) => {
  const b = browser(t);
  b.open();
  b.pass(2);
  const second = b.open(true);
  const before = b.posted();
  b.pass(20);
  assert.equal(b.posted(), before);
  assert.equal(b.streams(), 1);
  assert.equal(second.got, 0);
});

test("the tab that is seen takes over from one that is hidden", (t) => {
  const b = browser(t);
  const first = b.open();
  b.pass(2);
  const second = b.open(true);
  b.show(first, true);
  b.show(second, false);
  b.pass(2);
  assert.equal(b.streams(), 1);
  assert.ok(second.source);
});

test("a tab that is closed hands over, and one that is frozen is missed", (t) => {
  const b = browser(t);
  const first = b.open();
  b.pass(2);
  const second = b.open();
  const third = b.open();
  b.pass(2);
  b.close(first);
  b.pass(2);
  assert.equal(b.streams(), 1);
  const leader = second.source ? second : third;
  const other = leader === second ? third : second;
  leader.frozen = true;
  b.pass(8);
  assert.ok(other.source, "nobody took over");
  leader.frozen = false;
  b.event(); // it thaws, and its stream is still there
  b.pass(1);
  assert.equal(b.streams(), 1);
});
