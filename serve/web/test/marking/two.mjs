// Two phones: each sees what the other marks within two seconds; when both change one mark both are kept and the newest leads; a
// third that only looks sees it all and has no button. What was typed stays text, whatever it is.
import { codes, inEngines, want } from "./harness.mjs";

const nasty = '<img src=x onerror="document.title=\'caught\'"><script>document.title="caught"</script>';
/** Opens the list of marks, or the sheet of the one mark. */
const openList = async (p) => {
  await p.press("#status");
  await p.press("#sheet-body .jobs button", "Marks");
  await p.until("the mark in the list", () => [...document.querySelectorAll("#sheet-body .jobs button")].some((b) => b.textContent.startsWith("Reading")));
};
const openMark = async (p) => {
  await openList(p);
  await p.press("#sheet-body .jobs button", "Reading");
  await p.until("the sheet of the mark", () => document.querySelector(".mark-sheet .hit") !== null);
};

await inEngines("two phones change one mark, a third looks, and text stays text", async ({ field, phone }) => {
  const [one, two, eye] = [await phone(), await phone(), await phone(codes.look)];
  for (const p of [one, two, eye]) await p.join();
  await one.pad(nasty);
  await one.press("#pad-more");
  for (const label of ["Note", "Label", "Owner"]) {
    await one.browser.ev((text, name) => {
      const field = [...document.querySelectorAll(".mark-field")].find((f) => f.textContent.startsWith(name)).querySelector("input, textarea");
      field.value = text.slice(0, field.maxLength);
      field.dispatchEvent(new Event("input"));
    }, nasty, label);
  }
  await one.press("#sheet-close");
  await one.depth(["4", "0"]);
  const told = await one.keep();
  want(/ · on (this phone|the hotspot)/.test(told), told);
  await one.press("#pad-done");
  const kept = Date.now();
  two.patience = eye.patience = 2_500;
  for (const p of [two, eye]) await p.until("the mark of the other", () => document.querySelector("#status") && window.groundsheet.map.getAllLayers().some((l) => l.getSource()?.getFeatures?.().some((f) => f.get("mark"))));
  console.log(`     seen after ${Date.now() - kept} ms`);
  two.patience = eye.patience = 15_000;
  want(await eye.browser.ev(() => document.getElementById("mark-open").hidden), "who looks has the button to mark");
  await openMark(eye);
  await eye.shows(".mark-sheet", "onerror");
  want(await eye.browser.ev(() => document.querySelectorAll(".mark-sheet img, .mark-sheet script").length === 0 && document.title !== "caught"), "what was typed became part of the page");
  want(await eye.browser.ev(() => document.querySelector(".mark-buttons") === null), "who looks may change");
  await eye.shot("looked");
  // Both change it, neither having seen the other.
  for (const [p, keys] of [[one, ["4", "1"]], [two, ["4", "2"]]]) {
    await p.browser.ev(() => localStorage.setItem("groundsheet marks-by", "B"));
    await openMark(p);
    await p.press(".mark-buttons button", "Change");
    await p.until("the pad", () => document.querySelector("#pad:not([hidden])") !== null);
    for (let i = 0; i < 6; i++) await p.browser.ev(() => document.querySelector('#pad [data-key="back"]').click());
    await p.depth(keys);
  }
  // What a finger is on stays, though the list is drawn anew for what the others change.
  await eye.press("#sheet-close");
  await openList(eye);
  await eye.browser.ev(() => {
    window.under = [...document.querySelectorAll("#sheet-body .jobs button")].find((b) => b.textContent.startsWith("Reading"));
    const press = () => window.under.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true }));
    press();
    window.holding = setInterval(press, 500);
  });
  await one.browser.ev(() => document.getElementById("pad-keep").click());
  await two.browser.ev(() => document.getElementById("pad-keep").click());
  const book = await (async () => {
    for (let n = 0; n < 50; n++) {
      const all = await field.book();
      if (all.length === 3) return all;
      await new Promise((done) => setTimeout(done, 200));
    }
    return field.book();
  })();
  want(book.length === 3, `${book.length} entries`);
  await new Promise((done) => setTimeout(done, 2_500));
  want(await eye.browser.ev(() => window.under.isConnected), "the list was drawn anew under a finger");
  await eye.browser.ev(() => {
    clearInterval(window.holding);
    window.under.dispatchEvent(new PointerEvent("pointerup", { bubbles: true }));
  });
  await eye.until("the list is drawn anew after it", () => !window.under.isConnected);
  const [first, a, b] = book;
  want([a, b].every((e) => e.mark === first.id), "not of one mark");
  if (b.after.includes(a.id)) console.log("     the second had seen the first already");
  else {
    await openMark(two);
    await two.shows(".mark-sheet", "Changed by two at once");
    await two.shot("rivals");
  }
  // Struck: it asks why, and keeps its text.
  if (await two.browser.ev(() => document.querySelector("#sheet.open") !== null)) await two.press("#sheet-close");
  await openMark(two);
  await two.press(".mark-buttons button", "Strike");
  await two.type(".mark-form textarea", "wrong line");
  await two.press(".mark-form button", "Strike");
  let last;
  for (let n = 0; n < 50 && last?.action !== "strike"; n++) {
    last = (await field.book()).at(-1);
    await new Promise((done) => setTimeout(done, 200));
  }
  want(last.action === "strike" && last.why === "wrong line" && last.feature === null, JSON.stringify(last));
});
