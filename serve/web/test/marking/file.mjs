// What is only on one phone is saved as a file and taken in by another, which sends it: photo and all, once, as it was written. A
// file of another job, or one that is none, is told and takes nothing in.
import { inEngines, want } from "./harness.mjs";

/** Gives a file field of the page a file, as if it was chosen. */
const choose = (p, id, name, type, data) => p.browser.ev(([to, n, t, base64]) => {
  const transfer = new DataTransfer();
  transfer.items.add(new File([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], n, { type: t }));
  const input = document.getElementById(to);
  input.files = transfer.files;
  input.dispatchEvent(new Event("change"));
}, [id, name, type, Buffer.from(data).toString("base64")]);

const openList = (p) => p.until("the list of marks", () => {
  if (document.querySelector("#sheet.open") === null) document.getElementById("status").click();
  [...document.querySelectorAll("#sheet-body .jobs button")].find((b) => b.textContent.startsWith("Marks"))?.click();
  return document.getElementById("marks-save") !== null;
});

await inEngines("a file saved from one phone is taken in by another", async ({ hotspot, field, phone }) => {
  const [one, two] = [await phone(), await phone()];
  await one.join();
  await two.join();
  await one.pad("Ada");
  await field.stop();
  hotspot.far(true);
  await one.press("#pad-more");
  await one.until("the field for photos", () => document.querySelector("#mark-photo:not(:disabled)") !== null);
  const picture = await one.browser.ev(async () => {
    const canvas = Object.assign(document.createElement("canvas"), { width: 640, height: 480 });
    canvas.getContext("2d").fillRect(80, 80, 300, 200);
    return canvas.toDataURL("image/png").split(",")[1];
  });
  await choose(one, "mark-photo", "a.png", "image/png", Buffer.from(picture, "base64"));
  await one.shows(".mark-form", "1 photo with the next mark");
  await one.press("#sheet-close");
  await one.depth(["4", "0"]);
  const told = await one.keep();
  want(/ · on this phone/.test(told), told);
  await one.press("#pad-done");
  await one.until("one mark only here", () => /1 mark only on this phone/.test(document.getElementById("status").innerText));
  // The file, as the browser would save it.
  await one.browser.ev(() => {
    const real = URL.createObjectURL;
    URL.createObjectURL = (blob) => {
      if (blob.type === "application/json") void blob.text().then((text) => { window.savedText = text; });
      return real.call(URL, blob);
    };
    HTMLAnchorElement.prototype.click = function click() { window.savedName = this.download; };
  });
  await openList(one);
  await one.press("#marks-save");
  const { text, name } = await one.until("the file", () => window.savedText && { text: window.savedText, name: window.savedName });
  await one.shows("#sheet-body", "It is no receipt");
  await one.shot("saved");
  want(/-marks-\d{4}-\d\d-\d\d\.json$/.test(name), name);
  // The other phone takes it in, and nothing of what is no such file.
  hotspot.far(false);
  await field.start();
  await one.browser.goto("about:blank"); // the first phone is gone for good
  await two.openAgain();
  await two.until("the button to mark", () => document.querySelector("#mark-open:not([hidden])") !== null);
  await openList(two);
  for (const [what, data, say] of [["strange", "{}", "no file of marks"], ["another job", JSON.stringify({ ...JSON.parse(text), pack: "elsewhere" }), "of another job: elsewhere"]]) {
    await choose(two, "marks-file", "x.json", "application/json", data);
    await two.until(what, (s) => document.getElementById("sheet-body").textContent.includes(s), say);
  }
  for (const say of ["1 entry taken in", "0 entries taken in"]) {
    await choose(two, "marks-file", name, "application/json", text);
    await two.until(say, (s) => document.getElementById("sheet-body").textContent.includes(s), say);
  }
  await two.shot("taken");
  const book = await field.book();
  want(book.length <= 1, `${book.length} entries`);
  await two.until("nothing is only here", () => !/only on this phone/.test(document.getElementById("status").innerText));
  const [entry, ...more] = await field.book();
  want(more.length === 0 && entry.who === "Ada" && JSON.parse(text).entries[0] === JSON.stringify({ ...entry, number: undefined }), JSON.stringify(entry));
  const [{ hash }] = entry.feature.properties.photos;
  let answer;
  for (let tries = 0; tries < 50 && answer?.status !== 200; tries++, await new Promise((done) => setTimeout(done, 200))) answer = await fetch(`${field.own}${await field.bookAt()}/photos/${hash}`, { headers: { Authorization: `Basic ${Buffer.from("x:larkwaterlooks").toString("base64")}` } });
  want(answer.status === 200, `the photo: ${answer.status}`);
});
