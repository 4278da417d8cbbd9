// What stays on the desk's page while answers come, and what a pack may be called.
import assert from "node:assert/strict";
import test from "node:test";
import { bundle, table } from "./load.mjs";

const { makeKept, proofOf } = await bundle(`
  export { makeKept } from "./desk/app/kept";
  export { proofOf } from "./desk/work/findings";
`);

test("what is asked for again stays, twice the same is two, and what was left out is made anew", () => {
  const kept = makeKept();
  const turn = (...keys) => {
    const all = keys.map((k) => kept.of(k, () => ({ k })));
    kept.done();
    return all;
  };
  const [a, b, twin] = turn("a", "b", "a");
  assert.notEqual(a, twin);
  assert.deepEqual(turn("b", "a", "a").map((one) => [b, a, twin].indexOf(one)), [0, 1, 2]);
  turn("b");
  assert.notEqual(turn("a")[0], a);
});

const pack = { verdict: "fit", against: "", problem: null };
table("what a pack is called", [
  ["held against the job", proofOf(pack), "fit"],
  ["whole by itself alone", proofOf({ ...pack, against: "the job has no such source" }), "unproved"],
  ["with faults", proofOf({ ...pack, verdict: "not fit" }), "faulty"],
  ["with faults, and not held against the job", proofOf({ ...pack, verdict: "not fit", against: "x" }), "faulty"],
  ["not to be read", proofOf({ ...pack, verdict: "", problem: { what: "x", where: "", remedy: "" } }), "faulty"],
]);
