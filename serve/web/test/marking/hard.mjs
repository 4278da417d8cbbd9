// A browser without room keeps nothing and says so; a clock two hours off is told and kept with each entry; a phone that looks is
// refused by the server; ten thousand marks are drawn, and what a move of the map takes is told.
import { codes, inEngines, want } from "./harness.mjs";

const id = (n) => n.toString(16).padStart(32, "0");

/** Ten thousand marks in the dig area, sent as phones send them. */
async function fill(field, count) {
  const { packs } = await (await field.ask("/packs.json", codes.look)).json();
  const about = await (await field.ask(packs[0].about, codes.look)).json();
  const area = await (await field.ask(about.area, codes.look)).json();
  const [lon, lat] = area.features.find((f) => f.properties.part === "area").geometry.coordinates.flat(Infinity);
  const at = await field.bookAt();
  for (let from = 1; from <= count; from += 200) {
    const entries = Array.from({ length: Math.min(200, count - from + 1) }, (_, i) => {
      const n = from + i;
      return JSON.stringify({ layout: 1, id: id(n), mark: id(n), after: [], action: "write", who: "many", phone: id(9e9), clock: new Date().toISOString(), clock_ahead_s: 0, feature: {
        type: "Feature", geometry: { type: "Point", coordinates: [lon + (n % 100) * 2e-6, lat + Math.floor(n / 100) * 2e-6] },
        properties: { kind: "reading", utility: ["water", "gas", "sewer"][n % 3], depth_m: 0.5 + (n % 97) / 50, depth_reference: "center", line: id(1e8 + Math.floor(n / 50)), method: "electromagnetic, connected", quality_level: "B" },
      } });
    });
    const { receipts } = await (await field.ask(`${at}/entries`, codes.mark, { method: "POST", body: JSON.stringify({ entries }), headers: { "Content-Type": "application/json", Origin: field.own } })).json();
    want(receipts.every((r) => r.number > 0), receipts.find((r) => r.refused)?.refused);
  }
}

await inEngines("no room, a wrong clock, a phone that looks, ten thousand marks", async ({ name, field, phone }) => {
  const at = await field.bookAt();
  for (const [method, path] of [["POST", "/entries"], ["PUT", `/photos/${"a".repeat(64)}?at=0&of=1&type=image/jpeg`]]) {
    const answer = await field.ask(at + path, codes.look, { method, body: method === "POST" ? '{"entries":[]}' : "x", headers: { "Content-Type": method === "POST" ? "application/json" : "application/octet-stream", Origin: field.own } });
    want(answer.status === 403, `${method} by a phone that looks: ${answer.status}`);
  }
  await fill(field, 10_000);
  // Its clock two hours ahead from the first script on.
  const one = await phone(codes.mark, { before: "{ const now = Date.now.bind(Date), Real = Date; globalThis.Date = class extends Real { constructor(...a) { super(...(a.length ? a : [now() + 7200000])); } static now() { return now() + 7200000; } }; }" });
  await one.join();
  await one.until("ten thousand marks", () => window.groundsheet.map.getAllLayers().some((l) => (l.getSource()?.getFeatures?.().length ?? 0) >= 10_000));
  const took = await one.browser.ev(async () => {
    const { map } = window.groundsheet;
    const view = map.getView();
    const times = [];
    for (let i = 0; i < 12; i++) {
      const [x, y] = view.getCenter();
      const began = performance.now();
      view.setCenter([x + 20 * view.getResolution(), y]);
      map.renderSync();
      times.push(performance.now() - began);
      await new Promise((done) => requestAnimationFrame(done));
    }
    return times.sort((a, b) => a - b).map(Math.round);
  });
  console.log(`     ${name}: 12 moves with 10,000 marks: ${took.join(" ")} ms`);
  await one.shot("many");
  await one.pad();
  await one.depth(["4", "0"]);
  const first = await one.keep();
  want(/ · on (this phone|the hotspot).*Clocks differ: this device is (2 h|1 h 59 min) ahead/.test(first), first);
  await one.press("#pad-done");
  want(/Clocks differ/.test(await one.about()), "the clock is not told");
  await one.until("it is confirmed", () => !/only on this phone/.test(document.getElementById("status").innerText));
  const last = (await field.book()).at(-1);
  want(Math.abs(last.clock_ahead_s - 7200) < 5, `ahead ${last.clock_ahead_s}`);
  // The browser has no more room.
  await one.browser.ev(() => {
    const full = () => { throw new DOMException("full", "QuotaExceededError"); };
    IDBObjectStore.prototype.put = full;
    Storage.prototype.setItem = full;
  });
  await one.press("#mark-open");
  await one.press("#pad-all"); // the run goes on: depths near the last stand for the keys
  await one.depth(["4", "4"]);
  const told = await one.keep();
  want(/Not kept: this browser has no more room/.test(told), told);
  want(await one.browser.ev(() => document.querySelector("#pad-keep b").textContent) === "3′ 8″", "what was pressed is gone");
  await one.shot("full");
});
