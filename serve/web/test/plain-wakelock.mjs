// The screen stays on while something goes on that needs it, and no longer.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "./load.mjs";

const { keepAwake } = await load("shared/lib/wakelock.ts");
const soon = () => new Promise((done) => setTimeout(done, 0));

/** A made-up browser; `kept` tells whether its screen is kept on. */
function browser({ secure = true, refuses = 0 } = {}) {
  const locks = new Set();
  const heard = [];
  const page = {
    hidden: false, asked: 0,
    addEventListener: (_, f) => heard.push(f),
  };
  const wakeLock = {
    async request() {
      page.asked++;
      await soon();
      if (page.asked <= refuses || page.hidden) throw new Error("not now");
      const gone = [];
      const lock = {
        addEventListener: (_, f) => gone.push(f),
        async release() {
          locks.delete(lock);
          for (const f of gone) f();
        },
      };
      locks.add(lock);
      return lock;
    },
  };
  globalThis.document = page;
  Object.defineProperty(globalThis, "navigator", { value: secure ? { wakeLock } : {}, configurable: true });
  return {
    page,
    kept: async () => {
      for (let i = 0; i < 4; i++) await soon();
      return locks.size;
    },
    async show(on) {
      page.hidden = !on;
      if (!on) for (const lock of [...locks]) await lock.release();
      for (const f of heard) f();
    },
  };
}

// The module listens to the first document it meets, so this one comes first.
test("kept on while one of two goes on, given back when hidden, taken again when shown", async () => {
  const b = browser();
  assert.equal(await b.kept(), 0);
  keepAwake("measuring", true);
  keepAwake("measuring", true);
  keepAwake("following", true);
  assert.equal(await b.kept(), 1);
  keepAwake("following", false);
  assert.equal(await b.kept(), 1);
  await b.show(false);
  assert.equal(await b.kept(), 0);
  await b.show(true);
  assert.equal(await b.kept(), 1);
  keepAwake("measuring", false);
  assert.equal(await b.kept(), 0);
  await b.show(false);
  await b.show(true);
  assert.equal(await b.kept(), 0);
  assert.equal(b.page.asked, 2);
});
test("what ended while the browser was asked is given back", async () => {
  const b = browser();
  keepAwake("measuring", true);
  keepAwake("measuring", false);
  assert.equal(await b.kept(), 0);
  assert.equal(b.page.asked, 1);
});
test("a browser that refuses is asked again for the next reason", async () => {
  const b = browser({ refuses: 1 });
  keepAwake("following", true);
  assert.equal(await b.kept(), 0);
  keepAwake("measuring", true);
  assert.equal(await b.kept(), 1);
  keepAwake("following", false);
  keepAwake("measuring", false);
  assert.equal(await b.kept(), 0);
});
test("a page that is not secure goes without", async () => {
  const b = browser({ secure: false });
  keepAwake("following", true);
  assert.equal(await b.kept(), 0);
  keepAwake("following", false);
});
