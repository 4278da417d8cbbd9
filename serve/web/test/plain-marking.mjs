// What a crew records: IDs, depths as pressed, runs of readings, marks out of entries, the queue, photos and files.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test, { mock } from "node:test";
import { sha256 } from "@noble/hashes/sha2.js";
import { bundle, load, table } from "./load.mjs";

const entries = await load("field/marking/entry.ts");
const depth = await load("field/marking/depth.ts");
const runs = await load("field/marking/run.ts");
const folds = await load("field/marking/fold.ts");
const sends = await load("field/marking/send.ts");
const photo = await load("field/marking/photo.ts");
const files = await load("field/marking/file.ts");
const methods = await load("field/marking/methods.ts");
const places = await load("field/marking/place.ts");
const points = await load("field/marking/points.ts");
const { makeQueue } = await load("field/marking/queue.ts");

test("IDs are 32 hexadecimal digits, and no two are the same", () => {
  const all = new Set(Array.from({ length: 2000 }, entries.newId));
  assert.equal(all.size, 2000);
  for (const id of all) assert.match(id, /^[0-9a-f]{32}$/);
});

const press = (units, ...keys) => keys.reduce((text, k) => depth.pressed(text, k, units), "");
const metres = (units, ...keys) => depth.metresOf(press(units, ...keys), units);
table("a depth pressed", [
  ["inches without a unit", metres("us", "4", "0"), 1.016],
  ["feet and inches", metres("us", "3", "big", "4"), 1.016],
  ["feet alone", metres("us", "3", "big"), 0.9144],
  ["tenths of feet", metres("us", "3", ".", "5", "big"), 1.0668],
  ["inches with a unit", metres("us", "4", "1", "small"), 1.0414],
  ["twelve inches beside feet are none", metres("us", "3", "big", "1", "2"), null],
  ["a unit without a number is nothing", press("us", "big"), ""],
  ["nothing", metres("us"), null],
  ["one taken back", press("us", "4", "0", "back"), "4"],
  ["a unit taken back", press("us", "3", "big", "back"), "3"],
  ["both taken back", press("us", "3", "big", "4", "back", "back"), "3"],
  ["centimeters without a unit", metres("metric", "1", "0", "2"), 1.02],
  ["meters with a point", metres("metric", "1", ".", "0", "2"), 1.02],
  ["meters with a unit", metres("metric", "2", "big"), 2],
  ["no second point", press("metric", "1", ".", "2", "."), "1.2"],
  ["as kept", depth.typedText(press("us", "3", "big", "4"), "us"), "3 ft 4 in"],
  ["as kept, inches", depth.typedText("40", "us"), "40 in"],
  ["as kept, meters", depth.typedText("1.02", "metric"), "1.02 m"],
  ["an inch deeper", depth.stepped(1.016, 1, "us"), "3 ft 5 in"],
  ["a step over the ground", depth.stepped(0.01, -3, "metric"), "0 cm"],
]);

test("the limits of what is doubted are those of the laptop", async () => {
  const go = (await Promise.all(["derive.go", "disagreement.go"].map((f) => readFile(new URL(`../../../pack/record/derive/${f}`, import.meta.url), "utf8")))).join("\n");
  const { gap, jump, slope, drop, duplicate } = runs.limits;
  assert.match(go, new RegExp(`MostGap = ${gap}\\b`));
  assert.match(go, new RegExp(`d\\.Slope, ${slope}\\)`));
  assert.match(go, new RegExp(`d\\.Jump, ${Math.round(jump / 0.0254)}\\*measure\\.Inch\\)`));
  assert.match(go, new RegExp(`d\\.Drop, ${drop}\\)`));
  assert.match(go, new RegExp(`d\\.Duplicate, ${duplicate}\\)`));
  assert.match(await readFile(new URL("../../../pack/collect/nothing.go", import.meta.url), "utf8"), new RegExp(`besideM = ${runs.limits.beside}\\n`));
});
const reading = (north, d, more = {}) => ({ at: [-105, 40 + north / 111034.63], depth: d, reference: "center", hertz: 8192, current: 10, ...more });
const doubts = (a, b) => runs.doubtsAfter({ reading: a }, b, "us").map((s) => s.split(/[ :]/)[0]);
table("told between two readings", [
  ["nothing", doubts(reading(0, 1), reading(3, 1.1)), []],
  ["a gap", doubts(reading(0, 1), reading(15.5, 1)), ["Gap"]],
  ["just no gap", doubts(reading(0, 1), reading(14.9, 1)), []],
  ["a jump", doubts(reading(0, 1), reading(1, 1.3)), ["Jump"]],
  ["steep over a long way is none", doubts(reading(0, 1), reading(10, 1.9)), []],
  ["depths of unlike parts are not compared", doubts(reading(0, 1), reading(1, 1.3, { reference: "top" })), []],
  ["no depth, no jump", doubts(reading(0, null), reading(1, 1.3)), []],
  ["a drop of the current", doubts(reading(0, 1), reading(3, 1, { current: 6.9 })), ["The"]],
  ["another frequency", doubts(reading(0, 1), reading(3, 1, { current: 6.9, hertz: 512 })), []],
  ["the same place", doubts(reading(0, 1), reading(0.01, 1)), ["Within"]],
]);

const told = (a, b, c) => runs.doubtsAfter({ reading: b, before: { reading: a } }, c, "us").length;
table("told after three readings: the middle one stands out", [
  ["down and up again", told(reading(0, 1.067), reading(4.45, 1.753), reading(8.9, 1.092)), 1],
  ["up and down again", told(reading(0, 1.7), reading(4.45, 1.05), reading(8.9, 1.7)), 1],
  ["ever deeper", told(reading(0, 1), reading(4.45, 1.5), reading(8.9, 2)), 0],
  ["by less than twice a jump", told(reading(0, 1), reading(4.45, 1.29), reading(8.9, 1)), 0],
  ["over a long way", told(reading(0, 1), reading(14, 1.7), reading(28, 1)), 0],
  ["depths of unlike parts", told(reading(0, 1), reading(4.45, 1.7, { reference: "top" }), reading(8.9, 1)), 0],
]);

const id = (n) => String(n).padStart(32, "0");
const written = (n, after, more = {}) => ({ entry: { layout: 1, id: id(n), mark: id(1), after: after.map(id), action: "write", clock: `2026-11-29T10:00:0${n}Z`, who: `w${n}`, feature: { type: "Feature", geometry: null, properties: { kind: "reading", utility: "water", note: `n${n}` } } }, number: n, ...more });
const struck = (n, after) => ({ ...written(n, after), entry: { ...written(n, after).entry, action: "strike", why: "wrong", feature: null } });
const ahead = (k, s) => ({ ...k, entry: { ...k.entry, clock_ahead_s: s } });
const folded = (...all) => {
  const m = folds.foldMark(id(1), all);
  return m && [m.feature.properties.note, m.rivals.length, m.struck !== null, m.tips.length];
};
table("a mark out of its entries: its note, rivals, struck, newest ones", [
  ["one", folded(written(1, [])), ["n1", 0, false, 1]],
  ["changed", folded(written(1, []), written(2, [1])), ["n2", 0, false, 1]],
  ["two at once: the newest leads, both are kept", folded(written(1, []), written(2, [1]), written(3, [1])), ["n3", 1, false, 2]],
  ["both seen by a third", folded(written(1, []), written(2, [1]), written(3, [1]), written(4, [2, 3])), ["n4", 0, false, 1]],
  ["struck keeps its text", folded(written(1, []), struck(2, [1])), ["n1", 0, true, 1]],
  ["a strike and a change at once", folded(written(1, []), struck(2, [1]), written(3, [1])), ["n3", 1, false, 2]],
  ["by the clocks, whatever the numbers", folded(written(1, []), written(3, [1], { number: 2 }), written(2, [1], { number: 9 })), ["n3", 1, false, 2]],
  ["a clock that was ahead is set right", folded(written(1, []), ahead(written(3, [1]), 2.5), written(2, [1])), ["n2", 1, false, 2]],
  ["refused ones do not count", folded(written(1, []), written(2, [1], { number: null, refused: "no" })), ["n1", 0, false, 1]],
  ["none that writes", folds.foldMark(id(1), [struck(2, [1])]), null],
]);
// The laptop answers to the same file (pack/fieldbook).
for (const c of JSON.parse(await readFile(new URL("../../../pack/fieldbook/testdata/fold.json", import.meta.url), "utf8"))) {
  test(`marks: ${c.name}`, () => {
    const all = c.entries.map(([n, after, action, clock, ahead], i) => {
      const k = action === "write" ? written(n, after) : struck(n, after);
      return { ...k, number: i + 1, entry: { ...k.entry, action, clock: `2031-05-06T${clock}Z`, clock_ahead_s: ahead } };
    });
    const m = folds.foldMark(id(1), all);
    assert.deepEqual([m.leading.entry.id, m.rivals.map((k) => k.entry.id), m.feature.properties.note], [id(c.leading), c.rivals.map(id).sort().reverse(), `n${c.written}`]);
  });
}
test("a circle of entries ends", () => assert.equal(folded(written(1, [2]), struck(2, [1]))[0], "n1"));

/** A queue over a store in memory; `answer` gives what the laptop answers, or throws. */
async function queued(t, answer, kept = []) {
  const store = {
    kind: "database", all: new Map(kept.map((k) => [k.id, k])), pictures: new Map(),
    async keep(es, ps) { for (const e of es) this.all.set(e.id, e); for (const p of ps) this.pictures.set(p.hash, p); },
    entries: async () => [...store.all.values()], photo: async (h) => store.pictures.get(h) ?? null, photos: async () => [...store.pictures.keys()],
    dropPhoto: async (h) => void store.pictures.delete(h),
  };
  const { fetch, location, setTimeout } = globalThis;
  globalThis.setTimeout = (f, ms) => setTimeout(f, ms).unref(); // attempts that would come later do not hold up the end
  const asked = [];
  globalThis.location = { origin: "http://crew-7.local", href: "http://crew-7.local/" };
  globalThis.fetch = async (path, init) => {
    asked.push([init.method ?? "GET", path, init.body?.length ?? init.body?.byteLength ?? 0]);
    return answer(path, init, asked.length);
  };
  t.after(() => Object.assign(globalThis, { fetch, location, setTimeout }));
  const queue = await makeQueue({ pack: "site", book: "/packs/site/book", store, changed: () => undefined });
  return { queue, store, asked, settled: () => new Promise((done) => setTimeout(done, 30)) };
}
const receipts = (init, f = (_, i) => ({ number: i + 1 })) => Response.json({ receipts: JSON.parse(init.body).entries.map((text, i) => ({ id: JSON.parse(text).id, ...f(text, i) })), latest: 9 });
const entryOf = (n) => written(n, []).entry;

test("book: a mark is at home only where all of it was there when the pack was made, of this very book", async (t) => {
  const { makeBook } = await load("field/marking/book.ts");
  const { fetch, location } = globalThis;
  t.after(() => Object.assign(globalThis, { fetch, location }));
  globalThis.location = { origin: "http://crew-7.local", href: "http://crew-7.local/" };
  let answer = {};
  globalThis.fetch = async (path) => Response.json({ ...answer, entries: answer.entries.filter((e) => e.number > Number(path.split("after=")[1])) });
  const given = (number, after, mark) => ({ number, received: "r", text: JSON.stringify({ ...entryOf(number), mark: id(mark), after: after.map(id) }) });
  const told = [];
  const book = makeBook("/packs/site/book", (marks) => told.push(...marks));
  const home = () => [1, 2, 4].map((n) => { const m = book.mark(id(n)); return m === undefined ? null : book.atHome(m); });
  book.own([{ id: id(4), text: JSON.stringify({ ...entryOf(4), mark: id(4) }), state: "confirmed", number: 1 }]);
  answer = { book: "a", entries: [given(1, [], 1), given(2, [], 2), given(3, [1], 1)], latest: 3, home: 2 };
  await book.pull();
  assert.deepEqual(home(), [false, true, false], "changed since; whole; only this phone's word for its number");
  told.length = 0;
  answer = { ...answer, home: 3 };
  await book.pull();
  assert.deepEqual([home(), told.length], [[true, true, false], 3], "a later pack");
  answer = { book: "b", entries: [given(1, [], 1), given(2, [], 1), given(3, [], 1), given(5, [], 5)], latest: 5, home: 0 };
  await book.pull();
  assert.deepEqual(home(), [false, null, false], "another book in its place, a longer one");
});

test("queue: what is confirmed waits no longer, and is kept as a second copy", async (t) => {
  const { queue, store, asked, settled } = await queued(t, (_, init) => receipts(init));
  await queue.add([entryOf(1), entryOf(2)], []);
  await settled();
  assert.equal(queue.waiting().entries.length, 0);
  assert.deepEqual([...store.all.values()].map((e) => [e.state, e.number]), [["confirmed", 1], ["confirmed", 2]]);
  assert.equal(asked.length, 1);
});
test("queue: out of reach nothing leaves it, and its text is sent again to the letter", async (t) => {
  const bodies = [];
  const { queue, settled } = await queued(t, (_, init, n) => {
    bodies.push(init.body);
    if (n === 1) throw new TypeError("gone");
    return receipts(init);
  });
  await queue.add([entryOf(1)], []);
  await settled();
  assert.deepEqual([queue.waiting().entries.length, queue.trouble().why], [1, "away"]);
  queue.kick();
  await settled();
  assert.deepEqual([queue.waiting().entries.length, queue.trouble().why], [0, ""]);
  assert.equal(bodies[0], bodies[1]);
});
test("queue: a refused entry stays, with the reason", async (t) => {
  const { queue, settled } = await queued(t, (_, init) => receipts(init, () => ({ refused: "too far" })));
  await queue.add([entryOf(1)], []);
  await settled();
  assert.deepEqual(queue.waiting().entries.map((e) => [e.state, e.why]), [["refused", "too far"]]);
});
test("queue: a full disk of the laptop loses nothing", async (t) => {
  const { queue, settled } = await queued(t, () => new Response("no room", { status: 507 }));
  await queue.add([entryOf(1)], []);
  await settled();
  assert.deepEqual([queue.waiting().entries.length, queue.trouble().why], [1, "full"]);
});
test("queue: what keeps the laptop from taking any is told in its words", async (t) => {
  const { queue, settled } = await queued(t, () => new Response("another server writes into the field book", { status: 503 }));
  await queue.add([entryOf(1)], []);
  await settled();
  assert.deepEqual([queue.waiting().entries.length, queue.trouble()], [1, { why: "refused", words: "another server writes into the field book" }]);
});
test("queue: a photo that is never taken keeps no other waiting", async (t) => {
  const { queue, store, settled } = await queued(t, (path, init) => {
    if (path.endsWith("/have")) return Response.json({ have: 0, done: false });
    if (init.method !== "PUT") return receipts(init);
    return path.includes("/bad?") ? new Response("the photo cannot be used", { status: 422 }) : Response.json({ have: 5, done: true });
  });
  await queue.add([entryOf(1)], ["bad", "good"].map((hash) => ({ hash, pack: "site", type: "image/jpeg", bytes: new ArrayBuffer(5) })));
  await settled();
  assert.deepEqual([[...store.pictures.keys()], queue.trouble().why], [["bad"], "refused"]);
});
test("queue: what the laptop's book lost is sent again", async (t) => {
  const { queue, asked, settled } = await queued(t, (_, init) => receipts(init), [{ id: id(1), pack: "site", text: JSON.stringify(entryOf(1)), state: "confirmed", number: 4, why: "", made: 1 }]);
  queue.resend(() => true);
  await settled();
  assert.equal(asked.length, 0);
  queue.resend(() => false);
  await settled();
  assert.equal(asked.length, 1);
});
test("queue: a photo goes in pieces, on from where it stopped, and stays until all of it is there", async (t) => {
  let have = sends.pieceBytes;
  const all = 2 * sends.pieceBytes + 5;
  const { queue, store, asked, settled } = await queued(t, (path, init) => {
    if (path.endsWith("/have")) return Response.json({ have, done: false });
    if (init.method !== "PUT") return receipts(init);
    have += init.body.byteLength;
    return Response.json({ have, done: have === all });
  });
  await queue.add([entryOf(1)], [{ hash: "ab", pack: "site", type: "image/jpeg", bytes: new ArrayBuffer(all) }]);
  await settled();
  assert.deepEqual(asked.map(([m, p, n]) => [m, p.split("/").at(-1).split("&")[0], m === "PUT" ? n : 0]),
    [["POST", "entries", 0], ["GET", "have", 0], ["PUT", `ab?at=${sends.pieceBytes}`, sends.pieceBytes], ["PUT", `ab?at=${2 * sends.pieceBytes}`, 5]]);
  assert.equal(store.pictures.size, 0);
});
test("queue: a batch is bounded in number and characters", () => {
  const of = (n, size) => Array.from({ length: n }, (_, i) => ({ id: String(i), text: "x".repeat(size) }));
  assert.equal(sends.batchOf(of(500, 10)).length, 100);
  assert.equal(sends.batchOf(of(50, 60_000)).length, 4);
  assert.equal(sends.batchOf(of(2, 900_000)).length, 1);
});
test("queue: a phone without room keeps nothing of it, and says so", async (t) => {
  const { queue, store } = await queued(t, (_, init) => receipts(init));
  store.keep = async () => { throw new DOMException("full", "QuotaExceededError"); };
  await assert.rejects(queue.add([entryOf(1)], []));
  assert.equal(queue.waiting().entries.length, 0);
});

table("quality levels", [
  ["an instrument gives B at best", methods.levelOf("reading", "electromagnetic, connected", "A"), "B"],
  ["a lesser one may be chosen", methods.levelOf("reading", "electromagnetic, connected", "D"), "D"],
  ["paint gives D", methods.levelOf("line", "paint or flags", "B"), "D"],
  ["what somebody told gives D", methods.levelOf("reading", "told by somebody", "A"), "D"],
  ["a test hole gives A", methods.levelOf("test hole", "", ""), "A"],
  ["a surface feature gives C", methods.levelOf("surface feature", "", "A"), "C"],
  ["what was not found has none", methods.levelOf("nothing found", "acoustic", "B"), ""],
]);

table("places", [
  ["the middle of two", places.middleOf([[0, 40], [0, 40.00001]]).at.map((v) => Number(v.toFixed(7))), [0, 40.000005]],
  ["the spread", Math.round(places.middleOf([[0, 40], [0, 40.00001]]).spread * 100), 56],
  ["of one", places.middleOf([[1, 2]]), { at: [1, 2], spread: 0 }],
  ["a ring the other way round", points.counterclockwise([[0, 0], [0, 1], [1, 1]]), [[1, 1], [0, 1], [0, 0]]],
]);

// What stays on the phone between marks.
globalThis.localStorage ??= (() => {
  const all = new Map();
  return { getItem: (k) => all.get(k) ?? null, setItem: (k, v) => void all.set(k, v), removeItem: (k) => void all.delete(k) };
})();
const drafts = await load("field/marking/draft.ts");
const { composed } = await load("field/marking/compose.ts");
const { padState } = await load("field/marking/padstate.ts");
test("the first mark states nothing that nobody said, and is not kept without a utility", async () => {
  const d = drafts.storedDraft();
  assert.deepEqual([d.kind, d.utility, d.method, d.reference, d.level], ["reading", "", "", "", ""]);
  const facts = { draft: d, typed: "40", depth: { metres: 1.016, typed: "40 in" }, heard: null, line: "", editing: null, place: async () => places.atTyped([0, 40]) };
  assert.equal(await composed(facts), "Say which utility it is: press “Utility?”.");
  const { feature } = await composed({ ...facts, draft: { ...d, utility: "water" } });
  const { position, ...rest } = feature.properties;
  assert.deepEqual(rest, { kind: "reading", utility: "water", depth_m: 1.016, depth_as_typed: "40 in", depth_reference: "", quality_level: "D" });
  const surface = { ...facts, typed: "", depth: null, draft: { ...d, kind: "surface feature", utility: "water", label: " " } };
  assert.equal(await composed(surface), "Say what it is, such as a valve: press More.");
  assert.equal((await composed({ ...surface, draft: { ...surface.draft, label: "marker post" } })).feature.properties.label, "marker post");
});
test("a reading comes after any other kind, and when the page is opened again; what else was said stays", () => {
  const hole = { ...drafts.storedDraft(), kind: "test hole", utility: "gas", method: "acoustic", note: "by the gate" };
  drafts.keepDraft(hole);
  for (const d of [drafts.storedDraft(), drafts.nextDraft(hole)]) assert.deepEqual([d.kind, d.utility, d.method, d.note], ["reading", "gas", "acoustic", ""]);
  localStorage.removeItem("groundsheet marks-draft");
});
const padOf = (draft, more = {}) => padState({
  units: "us", draft: { ...drafts.storedDraft(), ...draft }, utility: { utility: draft.utility ?? "" }, typed: "", heard: null, told: { text: "", alarm: false, mark: "", kept: "" }, busy: "", keys: false,
  run: null, editing: false, unmoved: false, place: places.atTyped([0, 40]), points: 0, ...more,
});
table("what the small buttons say", [
  ["at first", Object.values(padOf({}).chips), ["Reading", "Utility?", "Method? · D", "to ?", "More"]],
  ["with a method", padOf({ method: "electromagnetic, connected", utility: "water" }).chips.method, "connected · B"],
  ["a lesser level", padOf({ method: "electromagnetic, connected", level: "C" }).chips.method, "connected · C"],
  ["a test hole", [padOf({ kind: "test hole" }).chips.kind, padOf({ kind: "test hole" }).chips.method], ["Test hole · A", ""]],
  ["a surface feature", padOf({ kind: "surface feature" }).chips.kind, "Surface feature · C"],
  ["what it is", padOf({ kind: "surface feature", label: "marker post" }).chips.kind, "Marker post · C"],
  ["nothing found", padOf({ kind: "nothing found", method: "acoustic" }).chips.method, "acoustic"],
]);

const clock = 1_800_000_000_000;
const fixOf = (more) => ({
  lon: 0, lat: 40, kind: "rtk-fixed", live: true, recorded: false, error: 0.055, grounds: "gst", at: clock, satellites: 9, hdop: 1, time: "", stated: 0.055,
  correction: null, station: null, frame: null, nad83: null, clock: null, ahead: null, ...more,
});
const placed = (more) => places.atReceiver({ fix: fixOf(more), trouble: "" }, null, "us", clock);

test("a position averaged over some seconds counts each fix once, and tells its spread", async () => {
  // Ten millionths of a degree of longitude on the equator are 1.113 m (WGS 84: a·π/180 = 111 319.49 m a degree).
  const seen = (lon, at) => ({ fix: fixOf({ error: 0.03, lon, lat: 0, at }), trouble: "" });
  const average = async (now, seconds = 5) => {
    mock.timers.enable({ apis: ["setTimeout", "Date"], now: clock });
    const told = [];
    try {
      let [done, place] = [false, null];
      const over = places.averaged(now, seconds, 1.8, "us", (left) => told.push(left)).then((p) => ([done, place] = [true, p]));
      for (let i = 0; i < 200 && !done; i++) {
        mock.timers.tick(250);
        await new Promise(setImmediate);
      }
      await over;
      return { place, told: told.filter((left, i) => left !== told[i - 1]) };
    } finally {
      mock.timers.reset();
    }
  };
  // A fix each second; the one of before the press is no part of it.
  const each = await average(() => {
    const n = Math.floor((Date.now() - clock) / 1000);
    return n === 0 ? seen(1, clock - 400) : seen(n * 1e-6, clock + n * 1000);
  });
  assert.deepEqual(each.told, [5, 4, 3, 2, 1]);
  const { averaged_s, averaged_n, spread_m, antenna_height_m, error_m } = each.place.placing;
  assert.deepEqual({ averaged_s, averaged_n, antenna_height_m, error_m }, { averaged_s: 5, averaged_n: 5, antenna_height_m: 1.8, error_m: 0.03 });
  assert.deepEqual(each.place.at.map((v) => Number(v.toFixed(9))), [3e-6, 0]); // 1 to 5, the middle is 3
  assert.ok(Math.abs(spread_m - 0.2226) < 1e-4, `${spread_m}`); // two millionths from the middle to the farthest
  // A receiver that fell silent: the latest there is, counted once, with its age.
  const silent = await average(() => seen(1e-6, clock - 30_000));
  assert.equal(silent.place.placing.averaged_n, 1);
  assert.equal(silent.place.placing.age_s, 35);
  assert.equal(silent.place.elsewhere, true);
  // None at all: a sentence.
  const none = await average(() => ({ fix: null, trouble: "it is away" }), 1);
  assert.equal(typeof none.place, "string");
});
const kept = (more) => {
  const { said, placing, doubts, elsewhere } = placed(more);
  return [said, placing.error_m, placing.stated_m, doubts.length, elsewhere];
};
const practice = { recorded: true, live: false };
table("an error holds of the place where the receiver is, and of no other", [
  ["live", kept({}), ["At the receiver, within 2.2 in (95 %)", 0.055, 0.055, 0, false]],
  ["its age is told before it is old", kept({ at: clock - 9_000 }), ["At the receiver, within 2.2 in (95 %)", 0.055, 0.055, 1, false]],
  ["old", kept({ at: clock - 720_000 }), ["At the last position, 12 min ago; how far off is not known", null, 0.055, 1, true]],
  ["of this phone, old", kept({ at: clock - 720_000, kind: "phone", stated: null }), ["At the last position, 12 min ago; how far off is not known", null, 0.055, 1, true]],
  ["recorded", kept(practice), ["Recorded position; how far off is not known now", null, 0.055, 1, true]],
  ["not from satellites", kept({ kind: "simulator", live: false }), ["At the receiver, how far off is not known", null, 0.055, 1, true]],
]);
const texts = await load("field/marking/marktext.ts");
const placeOf = (position) => texts.leadOf({
  feature: { properties: { kind: "reading", utility: "water", position: { from: "receiver", kind: "rtk-fixed", error_m: 0.055, stated_m: 0.04, ...position } } },
  leading: { entry: { who: "Ada", clock: "2026-11-29T10:00:00Z" } },
}, "us", new Date(clock)).known[1];
table("what is told of the place of a mark", [
  ["live", placeOf({ age_s: 0.4 }), "at the receiver's position, placed within 2.2 in"],
  ["its age not told", placeOf({}), "at the receiver's position, placed within 2.2 in"],
  ["some seconds old", placeOf({ age_s: 9.1 }), "at the receiver's last position, 9 s old when it was kept; placed within 2.2 in"],
  ["old", placeOf({ age_s: 720.3 }), "at the receiver's last position, 12 min old when it was kept; how far off is not known"],
  ["of unknown age", placeOf({ age_s: null }), "at the receiver's last position, of unknown age when it was kept; how far off is not known"],
  ["recorded", placeOf({ age_s: 0.4, recorded: true }), "at a position from a recording, not of that time; how far off is not known"],
  ["simulated", placeOf({ age_s: 0.4, kind: "simulator" }), "at the receiver's position, how far off is not known"],
]);
test("the age from which an error no longer holds is that of the laptop", async () => {
  const { fadeAfterMs, staleAfterMs } = await load("field/position/fix.ts");
  const overlay = await readFile(new URL("../../../pack/fieldbook/overlay.go", import.meta.url), "utf8");
  assert.match(overlay, new RegExp(`liveFor += ${staleAfterMs / 1000}\\n`));
  assert.match(overlay, new RegExp(`FreshFor = ${fadeAfterMs / 1000}\\n`));
});

const { makeAgain } = await load("field/marking/again.ts");
test("a press too many keeps nothing, and the same place without a depth is asked about once", () => {
  const [again, at, reading] = [makeAgain(), (north) => ({ at: [-105, 40 + north / 111034.63], placing: { error_m: 0.6 } }), "reading of water"];
  assert.equal(again.open(0), true);
  assert.equal(again.asks(reading, at(0), 0), false, "nothing was kept before");
  again.kept(reading, at(0), 1000);
  assert.deepEqual([again.open(1799), again.open(1800)], [false, true]);
  assert.equal(again.asks("reading of gas", at(0), 2000), false, "another utility");
  assert.equal(again.asks(reading, at(0.7), 2000), false, "beyond the error of the last one");
  assert.equal(again.asks(reading, at(0.5), 2000), true);
  assert.deepEqual([again.open(2700), again.open(2800)], [false, true], "a double press does not answer the question");
  assert.equal(again.asks(reading, at(0.5), 3000), false, "asked once");
  again.kept(reading, at(0.5), 3000);
  assert.equal(again.asks(reading, at(0.5), 4000), true, "and again of the next");
  again.forget();
  assert.equal(again.asks(reading, at(0.5), 6000), false);
});
test("nothing found beside a reading is asked about once for each reading", () => {
  const [again, at] = [makeAgain(), (north) => [-105, 40 + north / 111034.63]];
  const beside = (north, readings, now) => again.beside("nothing found of water", { at: at(north), placing: {} }, readings.map(at), now);
  assert.equal(beside(0, [], 0), false);
  assert.equal(beside(0, [1.01, -30], 0), false, "none within a meter");
  assert.equal(beside(0, [30, 0.99], 1000), true);
  assert.deepEqual([again.open(1700), again.open(1800)], [false, true], "a double press does not answer the question");
  assert.equal(beside(0, [30, 0.99], 2000), false, "asked once");
  assert.equal(beside(30, [30, 0.99], 3000), true, "beside another reading");
  again.kept("nothing found of water", { at: at(30), placing: {} }, 4000);
  assert.equal(beside(30, [30, 0.99], 5000), true, "and again of the next");
});

const offOf = (more) => texts.errorOf({ from: "receiver", kind: "rtk-fixed", error_m: 0.03, stated_m: 0.05, spread_m: null, age_s: 1, recorded: false, ...more });
table("how far off a mark may be, by which a tap finds it", [
  ["the worst that is known", offOf({}), 0.05],
  ["spread while averaged", offOf({ spread_m: 0.2 }), 0.2],
  ["recorded", offOf({ recorded: true }), null],
  ["old", offOf({ age_s: 31 }), null],
  ["of unknown age", offOf({ age_s: null }), null],
  ["not from satellites", offOf({ kind: "simulator" }), null],
  ["no error that holds", offOf({ error_m: null }), null],
  ["at the cross", offOf({ from: "cross" }), null],
  ["no position", texts.errorOf(undefined), null],
]);

const keptOf = (properties, where) => texts.keptText({ feature: { properties: { utility: "water", ...properties } } }, { utility: "water" }, where, "us");
table("what is told of a mark that was kept", [
  ["a reading", keptOf({ kind: "reading", depth_m: 1.016, depth_reference: "center" }, "here"), "Water 3′ 4″ to center · on this phone"],
  ["once its receipt came", keptOf({ kind: "reading", depth_m: 1.016, depth_reference: "center" }, "hotspot"), "Water 3′ 4″ to center · on the hotspot"],
  ["to nobody knows what", keptOf({ kind: "reading", depth_m: 1.016 }, "here"), "Water 3′ 4″ to ? · on this phone"],
  ["without a depth", keptOf({ kind: "reading" }, "here"), "Water reading without a depth · on this phone"],
  ["a test hole", keptOf({ kind: "test hole", depth_m: 1.016, depth_reference: "top" }, "hotspot"), "Water test hole 3′ 4″ to top · on the hotspot"],
  ["another kind", keptOf({ kind: "nothing found" }, "refused"), "Water nothing found here · Not taken by the laptop"],
]);

table("photos", [
  ["fits", photo.fitted(800, 600, 1600), [800, 600]],
  ["wide", photo.fitted(4000, 3000, 1600), [1600, 1200]],
  ["a thread", photo.fitted(20_000, 1, 1600), [1600, 1]],
]);
test("the hash of a photo is SHA-256", () => {
  assert.equal(photo.hashOf(new TextEncoder().encode("abc").buffer), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"); // FIPS 180-2, appendix B.1
  assert.equal(sha256(new Uint8Array(0)).length, 32);
});

test("a file of marks comes back as it went out; a damaged photo and another job do not", () => {
  const bytes = new TextEncoder().encode("picture").buffer;
  const kept = { id: id(1), pack: "site", text: JSON.stringify(entryOf(1)), state: "waiting", number: null, why: "", made: 1 };
  const text = files.fileText("site", [kept], [{ hash: photo.hashOf(bytes), pack: "site", type: "image/jpeg", bytes }]);
  const back = files.readFile(text, "site");
  assert.deepEqual(back.entries.map((e) => [e.id, e.text]), [[id(1), kept.text]]);
  assert.deepEqual(new Uint8Array(back.photos[0].bytes), new Uint8Array(bytes));
  assert.equal(files.readFile(text.replace("cGlj", "cGlk"), "site").photos.length, 0);
  assert.throws(() => files.readFile(text, "other"), /another job/);
  assert.throws(() => files.readFile("{", "site"), /no file of marks/);
});

const { takenOf } = await load("field/marking/exif.ts");
test("what a camera says of a photo", () => {
  // A JPEG of nothing but Exif: a big-endian TIFF with a place, a direction and a time.
  const out = [];
  const [u16, u32] = [(v) => out.push(v >> 8, v & 255), (v) => out.push((v >>> 24) & 255, (v >> 16) & 255, (v >> 8) & 255, v & 255)];
  const ascii = (t) => out.push(...[...t].map((c) => c.charCodeAt(0)));
  const tag = (t, type, count, value) => { u16(t); u16(type); u32(count); typeof value === "function" ? value() : u32(value); };
  u16(0xffd8); u16(0xffe1); u16(400); ascii("Exif"); u16(0);
  const at = out.length;
  ascii("MM"); u16(42); u32(8);
  u16(2); tag(0x132, 2, 20, 200); tag(0x8825, 4, 1, 50); u32(0);
  while (out.length < at + 50) out.push(0);
  u16(5); tag(1, 2, 2, () => { ascii("N"); out.push(0, 0, 0); }); tag(2, 5, 3, 130); tag(3, 2, 2, () => { ascii("W"); out.push(0, 0, 0); }); tag(4, 5, 3, 154); tag(17, 5, 1, 178);
  while (out.length < at + 130) out.push(0);
  for (const [n, d] of [[40, 1], [30, 1], [0, 1], [105, 1], [15, 1], [0, 1], [2705, 10]]) { u32(n); u32(d); }
  while (out.length < at + 200) out.push(0);
  ascii("2026:11:29 10:11:12"); out.push(0);
  while (out.length < 500) out.push(0);
  assert.deepEqual(takenOf(new Uint8Array(out).buffer), { taken: "2026-11-29T10:11:12", direction_deg: 270.5, lat: 40.5, lon: -105.25 });
});
test("a damaged or strange file says nothing", () => {
  for (const bytes of [[], [0xff, 0xd8], [0xff, 0xd8, 0xff, 0xe1, 0, 40, 0x45, 0x78, 0x69, 0x66, 0, 0, 0x4d, 0x4d, 0, 42, 255, 255, 255, 255]]) {
    assert.deepEqual(takenOf(new Uint8Array(bytes).buffer), { taken: null, direction_deg: null, lat: null, lon: null });
  }
});
test("the text of an entry that is none is passed over", () => {
  for (const text of ["", "{", "null", "3", '{"id":1}', JSON.stringify({ ...entryOf(1), feature: null }), JSON.stringify({ ...entryOf(1), feature: { type: "Feature", properties: { kind: "<b>" } } })]) {
    assert.equal(entries.parseEntry(text), null, text);
  }
});
test("the bundle that is loaded later begins with startMarking", async () => assert.match(await readFile(new URL("../src/field/marking/marking.ts", import.meta.url), "utf8"), /export async function startMarking/));

test("a depth of a mark that finds no room is counted as hidden", async () => {
  globalThis.document ??= { createElement: () => ({ getContext: () => null }) };
  const { Feature, placeLabels, Point, VectorSource } = await bundle(`
    export { default as Feature } from "ol/Feature";
    export { default as Point } from "ol/geom/Point";
    export { default as VectorSource } from "ol/source/Vector";
    export { placeLabels } from "./field/marking/labels";
  `);
  const at = (x, y) => new Feature(new Point([x, y]));
  const source = new VectorSource({ features: [at(0, 0), at(200, 0), at(200, 1)] });
  const view = { getResolution: () => 1, calculateExtent: () => [-500, -500, 500, 500] };
  const place = (isFree, text = "W 3′ 4″", cross = null) => {
    const labels = new Map();
    return [placeLabels(labels, source, { view, clear: () => cross && { cross } }, () => text, isFree), labels.size];
  };
  assert.deepEqual(place(() => true), [0, 3]);
  assert.deepEqual(place(([x]) => x < 100), [2, 1], "records leave no room for two");
  assert.deepEqual(place(() => true, ""), [0, 0], "without a depth nothing is hidden");
  // The cross stands on the first: its depth is written beside the cross, those of others beside their marks.
  const offCross = ([x], [left, top, right, bottom]) => x > 100 || left >= 24 || right <= -24 || top >= 24 || bottom <= -24;
  assert.deepEqual(place(offCross), [1, 2]);
  assert.deepEqual(place(offCross, undefined, [-24, -24, 24, 24]), [0, 3]);
});
