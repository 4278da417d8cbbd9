// One reading from the button to the book, and how many presses it takes: two by a hand, once the first is kept.
import { movedBy, showError, underCross } from "../harness.mjs";
import { codes, inEngines, want } from "./harness.mjs";

await inEngines("a reading is kept in two presses, and everybody sees it", async ({ field, phone }) => {
  const one = await phone();
  await one.join();
  await one.pad();
  await one.shot("pad");
  const aimed = await one.browser.ev(underCross);
  for (const on of [true, false]) {
    await one.browser.ev(showError, on);
    await new Promise((done) => setTimeout(done, 300));
    const off = movedBy(aimed, await one.browser.ev(underCross));
    want(off < 0.6, `an error over the map, ${on ? "shown" : "gone"}: the cross is ${off.toFixed(1)} pixels off its ground`);
  }
  await one.choose("method", "Electromagnetic, connected");
  await one.choose("reference", "Center of the signal");
  await one.depth(["3", "big", "4"]);
  await one.shot("pad-depth");
  const told = await one.keep();
  want(/^Water 3′ 4″ to center · on (this phone|the hotspot)/.test(told), told);
  // From now on: one press for the depth, one to keep.
  let presses = 0;
  const press = async (selector, text) => {
    presses++;
    await one.press(selector, text);
  };
  await one.move(0, -60);
  await press(".pad-near button", "3′ 5″");
  await new Promise((done) => setTimeout(done, 900)); // right after a mark was kept a press keeps nothing
  await press("#pad-keep", "");
  await one.until("the second reading", () => document.querySelector("#pad-end")?.textContent.includes("2"));
  want(presses === 2, `${presses} presses`);
  await one.shot("pad-run");
  await one.until("nothing is only here", () => !/only on this phone/.test(document.getElementById("status").innerText));
  const book = await field.book();
  want(book.length === 2, `${book.length} entries`);
  const [a, b] = book.map((e) => e.feature.properties);
  want(a.kind === "reading" && a.depth_m === 1.016 && a.depth_as_typed === "3 ft 4 in" && a.depth_reference === "center" && a.quality_level === "B", JSON.stringify(a));
  want(a.line === b.line && a.line.length === 32 && b.depth_m === 1.0414, JSON.stringify([a.line, b.line, b.depth_m]));
  want(book[0].who === "Ada" && book[0].phone.length === 32 && Math.abs(book[0].clock_ahead_s) < 2, JSON.stringify(book[0]));
  const answer = await field.ask(`${await field.bookAt()}/entries`, codes.look, { method: "POST", body: JSON.stringify({ entries: [] }), headers: { "Content-Type": "application/json" } });
  want(answer.status === 403, `a phone that looks gets ${answer.status}`);
});
